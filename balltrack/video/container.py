"""An opened clip, and the one clear line said when it cannot be opened."""

from __future__ import annotations  # PyAV's Packet takes a type argument only for the type checker

import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import av
from av.audio.stream import AudioStream
from av.container import InputContainer
from av.packet import Packet
from av.stream import Disposition
from av.video.frame import VideoFrame
from av.video.stream import VideoStream

from balltrack.errors import VideoError
from balltrack.names import shown

AnyStream = TypeVar("AnyStream", VideoStream, AudioStream)

# What PyAV raises on files that are not sound; OverflowError where a number in one is larger than any time.
DECODER_ERRORS = (av.error.FFmpegError, OSError, ValueError, OverflowError)
# What phones, cameras and messengers write. Not: lists of other files and addresses, still pictures, and the many rare
# kinds whose readers nobody has looked at for years.
CONTAINERS = "mov,matroska,avi,mpegts"
MOST_PIXELS = 36_000_000  # in one picture: 8K (7680 x 4320) and the decoder's margin
DECODER_LIMITS = {"max_pixels": str(MOST_PIXELS)}
# Nothing but the header: to learn what is missing in it, ffmpeg would decode pictures, of H.264 seven at least.
_HEADER_ONLY = {"probesize": "32", "analyzeduration": "1"}  # its least
_LIMITS = {"format_whitelist": CONTAINERS, "protocol_whitelist": "file", **DECODER_LIMITS}


@contextmanager
def opened(path: Path, header_only: bool = False) -> Iterator[InputContainer]:
    """Open a clip for reading and close it afterwards.

    With ``header_only`` no more is known of its streams than its header tells, which serves who decodes no pictures: of
    a QuickTime or MP4 file that is all there is to know of the sound. It takes a twentieth of the time.

    Raises
    ------
    VideoError
        No such file, a folder, an empty file, a name that cannot be shown, or nothing that a video reader
        understands.
    """
    _check_file(path)
    try:
        container = _open(path, _LIMITS | _HEADER_ONLY if header_only else _LIMITS)
    except PermissionError as error:
        raise VideoError(f"{path.name}: may not be read; give yourself read permission on the file") from error
    except DECODER_ERRORS as error:
        raise VideoError(
            f"{path.name}: not a video, or cut short before its index was written; copy it from the phone again"
        ) from error
    with container:
        yield container


def _open(path: Path, options: dict[str, str]) -> InputContainer:
    """Phones write tags in odd encodings: a bad tag must not hide a good picture.

    The whole path is given: a name such as ``http:a.mp4`` alone would be taken for an address.
    """
    whole = str(path.absolute())
    try:
        return av.open(whole, mode="r", metadata_errors="replace", options=options)
    except TypeError:  # PyAV 19 took the option away, and bears such tags without it
        return av.open(whole, mode="r", options=options)


def video_stream(container: InputContainer, path: Path) -> VideoStream:
    """The moving picture of a clip: of several the largest, and of equal ones that which players show.

    Raises
    ------
    VideoError
        If the file holds none, or one that nothing here decodes.
    """
    moving = moving_pictures(container)
    if not moving:
        raise VideoError(f"{path.name}: holds no video stream; give the clip as filmed, not its sound alone")
    stream = max(moving, key=lambda each: (_pixels(each), bool(each.disposition & Disposition.default)))
    _limit(stream, path)
    return stream


def moving_pictures(container: InputContainer) -> list[VideoStream]:
    """The video streams that are no cover pictures."""
    return [stream for stream in container.streams.video if not stream.disposition & Disposition.attached_pic]


def sound_stream(container: InputContainer) -> AudioStream | None:
    """The first sound that can be decoded: phones put a second one of their own kind beside it, for spatial sound."""
    sounds = (stream for stream in container.streams.audio if _decoder(stream) is not None)
    return next(sounds, None)


def _pixels(stream: VideoStream) -> int:
    decoder = _decoder(stream)
    return 0 if decoder is None else decoder.width * decoder.height


def _decoder(stream: VideoStream | AudioStream) -> Any:
    """Its codec context; None where nothing here decodes it, which PyAV's own types do not say."""
    return stream.codec_context


def _limit(stream: VideoStream, path: Path) -> None:
    """Tell the decoder to refuse pictures of more than ``MOST_PIXELS`` before it takes memory for them.

    What the file says of the size is not enough: the size may change, and each packet can bring its own.
    """
    decoder = _decoder(stream)
    if decoder is None:
        raise VideoError(f"{path.name}: its kind of picture is not known here; send the clip as filmed")
    if not decoder.is_open:
        decoder.options = dict(DECODER_LIMITS)


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


def go_to(container: InputContainer, stream: AnyStream, target: int) -> None:
    """Go to a key frame at or before ``target``, in the stream's time base; to the beginning where that is not found.

    Raises
    ------
    VideoError
        If the file cannot even be read from its beginning again.
    """
    begin = stream.start_time or 0
    for place in (max(target, begin), begin):
        try:
            container.seek(place, stream=stream, backward=True)
            return
        except DECODER_ERRORS:
            continue
    raise VideoError(f"{Path(container.name).name}: its index is damaged; copy it from the phone again")


def _check_file(path: Path) -> None:
    name = shown(path.name)
    if name != path.name:
        raise VideoError(f"{name}: the name holds a letter that cannot be shown, such as a line break; rename the file")
    try:
        told = path.stat()
    except FileNotFoundError:
        raise VideoError(f"{name}: no such file; check the name") from None
    except OSError as error:
        raise VideoError(f"{name}: cannot be read: {error.strerror or error}") from None
    if stat.S_ISDIR(told.st_mode):
        raise VideoError(f"{name}: a folder, not a clip; give a video file")
    if not stat.S_ISREG(told.st_mode):
        raise VideoError(f"{name}: a pipe or a device, not a clip; give a video file")
    if told.st_size == 0:
        raise VideoError(f"{name}: is empty (0 bytes); copy it from the phone again")
