"""An opened clip, and the one clear line said when it cannot be opened."""

from __future__ import annotations  # PyAV's Packet takes a type argument only for the type checker

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

import av
from av.audio.stream import AudioStream
from av.container import InputContainer
from av.packet import Packet
from av.stream import Disposition
from av.video.frame import VideoFrame
from av.video.stream import VideoStream

from balltrack.errors import VideoError

AnyStream = TypeVar("AnyStream", VideoStream, AudioStream)

DECODER_ERRORS = (av.error.FFmpegError, OSError, ValueError)  # what PyAV raises on files that are not sound


@contextmanager
def opened(path: Path) -> Iterator[InputContainer]:
    """Open a clip for reading and close it afterwards.

    Raises
    ------
    VideoError
        No such file, a folder, an empty file, or nothing that a video reader understands.
    """
    _check_file(path)
    try:
        container = _open(path)
    except PermissionError as error:
        raise VideoError(f"{path.name}: may not be read; give yourself read permission on the file") from error
    except DECODER_ERRORS as error:
        raise VideoError(
            f"{path.name}: not a video, or cut short before its index was written; copy it from the phone again"
        ) from error
    with container:
        yield container


def _open(path: Path) -> InputContainer:
    """Phones write tags in odd encodings: a bad tag must not hide a good picture."""
    try:
        return av.open(str(path), mode="r", metadata_errors="replace")
    except TypeError:  # PyAV 19 took the option away, and bears such tags without it
        return av.open(str(path), mode="r")


def video_stream(container: InputContainer, path: Path) -> VideoStream:
    """The moving picture of a clip: the first video stream that is not a cover picture.

    Raises
    ------
    VideoError
        If the file holds none.
    """
    for stream in container.streams.video:
        if not stream.disposition & Disposition.attached_pic:
            return stream
    raise VideoError(f"{path.name}: holds no video stream; give the clip as filmed, not its sound alone")


def decode(stream: VideoStream, packet: Packet[VideoStream] | None) -> tuple[list[VideoFrame], bool]:
    """Decode one packet; None flushes the decoder. Returns its frames and whether the packet was damaged."""
    try:
        return list(stream.decode(packet)), False
    except EOFError:
        return [], False
    except DECODER_ERRORS:
        return [], True


def packets(container: InputContainer, stream: AnyStream) -> Iterator[Packet[AnyStream] | None]:
    """The packets that can still be read, then None; stops in silence where a truncated file ends."""
    demuxed = container.demux(stream)
    while True:
        try:
            packet = next(demuxed)
        except (StopIteration, *DECODER_ERRORS):
            break
        if packet.size:  # PyAV's own flush packets are empty; one flush at the end is enough
            yield packet
    yield None


def _check_file(path: Path) -> None:
    if not path.exists():
        raise VideoError(f"{path.name}: no such file; check the name")
    if not path.is_file():
        raise VideoError(f"{path.name}: a folder, not a clip; give a video file")
    if path.stat().st_size == 0:
        raise VideoError(f"{path.name}: is empty (0 bytes); copy it from the phone again")
