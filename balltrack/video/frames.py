"""The pictures of a clip, upright, each with its own time, streamed in order of time."""

from collections.abc import Generator, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
from av.container import InputContainer
from av.video.frame import VideoFrame
from av.video.plane import VideoPlane
from av.video.stream import VideoStream

from balltrack.errors import VideoError
from balltrack.units import Floats
from balltrack.video.clip import ClipInfo, is_full_range, probe
from balltrack.video.container import decode, go_to, opened, packets, video_stream
from balltrack.video.fields import first_field
from balltrack.video.hdr import standard_planes
from balltrack.video.orientation import Bytes
from balltrack.video.sparing import Sparing

_DIRECT = {"yuv420p": 8, "yuvj420p": 8, "yuv420p10le": 10, "yuv420p12le": 12}  # formats whose planes we read ourselves
_REORDER_FRAMES = 8  # a key frame may be shown this many frames after its place in the file; phones reorder 1 to 3


@dataclass(frozen=True, slots=True)
class Box:
    """A part of a picture; all sides are even, for colours are stored at half the size. [px]"""

    left: int
    top: int
    right: int  # the first column beyond
    bottom: int

    @property
    def sides(self) -> tuple[int, int]:
        """Width and height."""
        return self.right - self.left, self.bottom - self.top

    @property
    def cut(self) -> tuple[slice, slice]:
        """It in luma."""
        return slice(self.top, self.bottom), slice(self.left, self.right)

    @property
    def half_cut(self) -> tuple[slice, slice]:
        """It in colours."""
        return slice(self.top // 2, self.bottom // 2), slice(self.left // 2, self.right // 2)


def box_about(centre_px: Floats, half_px: float, size_px: tuple[int, int]) -> Box:
    """What lies within half a side of a place (2,), as far as the picture reaches. ``size_px``: width and height."""
    (left, right), (top, bottom) = (
        tuple(int(min(max(middle + off, 0), side)) // 2 * 2 for off in (-half_px, half_px + 2))
        for middle, side in zip(centre_px.tolist(), size_px, strict=True)
    )
    return Box(left, top, right, bottom)


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """One upright picture.

    The arrays are read-only and may be kept as long as wished: each holds on to its own decoder buffer (3 MB at
    1080p), so keep few and copy what must live long.
    """

    index: int  # counts the frames of this reading, from 0
    time_s: float  # clip time, real seconds: pts * time_base * time_scale
    luma: Bytes  # (h, w)
    cb: Bytes  # (h / 2, w / 2), halves rounded up
    cr: Bytes  # (h / 2, w / 2)

    @property
    def size_bytes(self) -> int:
        """Memory that its pixels take."""
        return int(self.luma.size + self.cb.size + self.cr.size)

    def part(self, box: Box) -> "Frame":
        """A copy of what lies within a box, its planes' own first pixel at (0, 0)."""
        luma, cb, cr = self.luma[box.cut], self.cb[box.half_cut], self.cr[box.half_cut]
        return replace(self, luma=luma.copy(), cb=cb.copy(), cr=cr.copy())


class FrameReader(Iterator[Frame]):
    """Frames one by one; the counts below say what was left out so far."""

    def __init__(
        self, info: ClipInfo, start_s: float | None, stop_s: float | None, threads: int, sparing: Sparing | None = None
    ) -> None:
        self.info = info
        self.delivered = 0
        self.untimed = 0  # pictures without a timestamp
        self.repeated = 0  # pictures whose time is not after the one before
        self.damaged = 0  # packets that did not decode
        self._start_s = -np.inf if start_s is None else start_s
        self._stop_s = np.inf if stop_s is None else stop_s
        self._whole = start_s is None and stop_s is None
        self._sparing = sparing
        self._frames = self._read(threads)

    def __iter__(self) -> "FrameReader":
        return self

    def __next__(self) -> Frame:
        return next(self._frames)

    def close(self) -> None:
        """Let go of the file before the end."""
        self._frames.close()

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a person should know about the frames read so far."""
        counts = (
            (self.untimed, "pictures without a time left out"),
            (self.repeated, "pictures with a repeated or backward time left out"),
            (self.damaged, "damaged pictures left out"),
        )
        return tuple(f"{count} {what}" for count, what in counts if count)

    def _read(self, threads: int) -> Generator[Frame]:
        info = self.info
        with opened(info.path) as container:
            stream = video_stream(container, info.path)
            stream.thread_count = threads
            if threads != 1:
                stream.thread_type = "AUTO"
            _seek(container, stream, self._start_s / info.time_scale)
            last_s = -np.inf
            for picture, time_s in self._timed(container, stream):
                if time_s >= self._stop_s:
                    return
                if time_s < self._start_s:
                    continue
                if time_s <= last_s:
                    self.repeated += 1
                    continue
                last_s = time_s
                yield frame_of(self.delivered, time_s, picture, info)
                self.delivered += 1
        if self._whole and not self.delivered:
            raise VideoError(f"{info.path.name}: none of its pictures can be used; copy it from the phone again")

    def _wanted(self, time_s: float) -> bool:
        """Whether a picture is asked for. One that is not need not be decoded if no other is predicted from it."""
        return time_s >= self._start_s and not (self._sparing and self._sparing.may_go(time_s))

    def _timed(self, container: InputContainer, stream: VideoStream) -> Iterator[tuple[VideoFrame, float]]:
        base = stream.time_base or Fraction(1)
        for packet in packets(container, stream):
            if packet is not None:
                wanted = packet.pts is None or self._wanted(float(packet.pts * base) * self.info.time_scale)
                stream.codec_context.skip_frame = "DEFAULT" if wanted else "NONREF"
            pictures, bad = decode(stream, packet)
            self.damaged += bad
            for picture in pictures:
                if picture.pts is None:
                    self.untimed += 1
                else:
                    yield picture, float(picture.pts * base) * self.info.time_scale


def read_frames(
    path: Path,
    start_s: float | None = None,
    stop_s: float | None = None,
    threads: int = 1,
    info: ClipInfo | None = None,
) -> FrameReader:
    """Stream the frames of a clip with ``start_s <= time_s < stop_s``, in order of time and in constant memory.

    Decoding begins at the key frame before ``start_s``. Damaged pictures, pictures without a time and pictures with a
    repeated time are left out and counted by the reader.

    Parameters
    ----------
    path : Path
    start_s, stop_s : clip time [s], real seconds; None for the ends of the clip
    threads : decoder threads; 1 where each clip has its own process, 0 for as many as the machine has
    info : what ``probe`` said, to spare a second look or to read with a corrected ``time_scale``

    Raises
    ------
    VideoError
        At once where the clip cannot be opened; while reading where a whole clip gives no frame, or the picture
        changes size.
    """
    return FrameReader(info or probe(path), start_s, stop_s, threads)


def read_sparingly(info: ClipInfo, closely_s: Sequence[tuple[float, float]], apart_s: float) -> FrameReader:
    """Stream a whole clip like `read_frames`, but for pictures that cost their decoding only.

    Outside the stretches ``closely_s`` [clip time, s] pictures from which no other is predicted are left out, where
    those on both sides are at most ``apart_s`` apart.
    """
    return FrameReader(info, None, None, 1, Sparing(closely_s, apart_s))


def _seek(container: InputContainer, stream: VideoStream, start_file_s: float) -> None:
    """Go to a key frame that is shown before ``start_file_s``; stay at the beginning where the file cannot seek."""
    if not np.isfinite(start_file_s) or stream.time_base is None:
        return
    rate = float(stream.average_rate or 30)
    margin_s = _REORDER_FRAMES / rate if stream.codec_context.has_b_frames else 0.0
    target = int((start_file_s - margin_s) / stream.time_base)
    if target <= (stream.start_time or 0):
        return
    go_to(container, stream, target)


def frame_of(index: int, time_s: float, picture: VideoFrame, info: ClipInfo) -> Frame:
    """A decoded picture, upright. Raises VideoError if it is not of the clip's size."""
    if (picture.width, picture.height) != info.stored_size_px:
        raise VideoError(
            f"{info.path.name}: the picture changes from {info.stored_size_px[0]}x{info.stored_size_px[1]} to "
            f"{picture.width}x{picture.height} at {time_s:.2f} s; cut the clip there"
        )
    planes: Iterable[Bytes] = _planes(picture, info)
    if picture.interlaced_frame:
        planes = (first_field(plane, not info.bottom_first) for plane in planes)
    luma, cb, cr = (info.orientation.upright(plane) for plane in planes)
    for plane in (luma, cb, cr):
        plane.flags.writeable = False  # the decoder still predicts from these very bytes
    return Frame(index, time_s, luma, cb, cr)


def _planes(picture: VideoFrame, info: ClipInfo) -> tuple[Bytes, Bytes, Bytes]:
    if info.colours.high_range:
        return standard_planes(picture, info.colours, is_full_range(picture))
    if picture.format.name not in _DIRECT:
        target = "yuvj420p" if is_full_range(picture) else "yuv420p"
        picture = picture.reformat(format=target)
    bits = _DIRECT[picture.format.name]
    luma, cb, cr = (_plane(plane, bits) for plane in picture.planes)
    return luma, cb, cr


def _plane(plane: VideoPlane, bits: int) -> Bytes:
    """(h, w) view of a plane of 8 bits; deeper ones are rounded to 8."""
    if bits == 8:
        view = np.frombuffer(memoryview(plane), np.uint8).reshape(plane.height, plane.line_size)
        return view[:, : plane.width]
    deep = np.frombuffer(memoryview(plane), np.uint16).reshape(plane.height, plane.line_size // 2)
    return np.asarray(cv2.convertScaleAbs(deep[:, : plane.width], alpha=2.0 ** (8 - bits)), dtype=np.uint8)
