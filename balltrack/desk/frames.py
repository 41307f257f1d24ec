"""Single pictures of a clip for the browser, made when they are asked for; a few are kept."""

import threading
from collections import OrderedDict
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

from balltrack.errors import VideoError
from balltrack.units import Floats
from balltrack.video.clip import ClipInfo, probe
from balltrack.video.frames import Frame, read_frames
from balltrack.video.orientation import Bytes
from balltrack.video.stamps import frame_times_s

TOGETHER = 12  # pictures decoded at once: whoever steps through a clip goes on, and decoding begins at a key frame
MOST_STRETCHES = 2  # of so many pictures kept as decoded, 37 MB each at 1080p
MOST_BYTES = 60_000_000  # of finished pictures, about 200
JPEG_QUALITY = 88
SAME_S = 1e-6
BLACK, WHITE, COLOUR_SPAN = 16, 235, 224  # of limited range video: Rec. ITU-R BT.601


@dataclass(frozen=True, slots=True, eq=False)
class Reel:
    """What is known of a clip without its pictures."""

    info: ClipInfo
    times_s: Floats  # (n,) of its pictures


class Pictures:
    """JPEG pictures of clips. Give it paths inside the lesson only."""

    def __init__(self) -> None:
        self._made: OrderedDict[tuple[Path, int, int, bool], bytes] = OrderedDict()
        self._bytes = 0
        self._stretches: OrderedDict[tuple[Path, int, int], dict[int, Frame]] = OrderedDict()
        self._lock = threading.Lock()

    def jpeg(self, path: Path, number: int, half: bool) -> bytes:
        """The ``number``-th picture of a clip, from 0, as JPEG in full or half size.

        Raises
        ------
        VideoError
            If the clip cannot be read or has no such picture.
        """
        reel = reel_of(path)
        if not 0 <= number < len(reel.times_s):
            raise VideoError(f"{path.name} has no picture {number}: it has {len(reel.times_s)}")
        changed_ns = path.stat().st_mtime_ns
        key = (path, changed_ns, number, half)
        with self._lock:  # one at a time: two that step through a clip would decode the same pictures twice
            if key not in self._made:
                frame = self._stretch(reel, changed_ns, number).get(number)
                if frame is None:
                    raise VideoError(f"{path.name}: the picture at {reel.times_s[number]:.2f} s does not decode")
                self._keep(key, _jpeg(frame, reel.info.full_range, half))
            self._made.move_to_end(key)
            return self._made[key]

    def _stretch(self, reel: Reel, changed_ns: int, number: int) -> dict[int, Frame]:
        """The decoded pictures around one, by number."""
        first = number - number % TOGETHER
        key = (reel.info.path, changed_ns, first)
        if key not in self._stretches:
            last = min(first + TOGETHER, len(reel.times_s)) - 1
            start_s, stop_s = reel.times_s[first] - SAME_S, reel.times_s[last] + SAME_S
            self._stretches[key] = {
                int(np.argmin(np.abs(reel.times_s - frame.time_s))): frame
                for frame in read_frames(reel.info.path, start_s, stop_s, info=reel.info)
            }
            if len(self._stretches) > MOST_STRETCHES:
                self._stretches.popitem(last=False)
        self._stretches.move_to_end(key)
        return self._stretches[key]

    def _keep(self, key: tuple[Path, int, int, bool], data: bytes) -> None:
        self._bytes += len(data) - len(self._made.pop(key, b""))
        self._made[key] = data
        while self._bytes > MOST_BYTES and len(self._made) > 1:
            self._bytes -= len(self._made.popitem(last=False)[1])


def reel_of(path: Path, capture_fps: float | None = None) -> Reel:
    """Look at a clip; remembered as long as the file stays as it is. Raises VideoError where it cannot be read."""
    try:
        stat = path.stat()
    except OSError as error:
        raise VideoError(f"{path.name} cannot be read: {error.strerror or error}") from None
    return _reel(path, capture_fps, stat.st_mtime_ns, stat.st_size)


@lru_cache(maxsize=256)
def _reel(path: Path, capture_fps: float | None, _changed_ns: int, _size: int) -> Reel:
    info = probe(path, capture_fps)
    return Reel(info, frame_times_s(info))


def _jpeg(frame: Frame, full_range: bool, half: bool) -> bytes:
    picture = _bgr(frame, full_range)
    if half:
        size = (max(picture.shape[1] // 2, 1), max(picture.shape[0] // 2, 1))
        picture = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)
    done, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    if not done:
        raise VideoError(f"the picture at {frame.time_s:.2f} s cannot be made a JPEG")
    return data.tobytes()


def _bgr(frame: Frame, full_range: bool) -> Bytes:
    """(h, w, 3), for the eye: Rec. 601's colours, whatever the file's."""
    height, width = frame.luma.shape
    planes = [frame.luma, *(_enlarged(plane, (width, height)) for plane in (frame.cr, frame.cb))]
    if not full_range:
        tables = (_stretched(BLACK, WHITE - BLACK, 0), *[_stretched(128, COLOUR_SPAN, 128)] * 2)
        planes = [table[plane] for table, plane in zip(tables, planes, strict=True)]
    return np.asarray(cv2.cvtColor(cv2.merge(planes), cv2.COLOR_YCrCb2BGR), np.uint8)


def _enlarged(plane: Bytes, size: tuple[int, int]) -> Bytes:
    return np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_LINEAR), np.uint8)


def _stretched(zero: int, span: int, to: int) -> Bytes:
    """(256,) what each level becomes when ``span`` levels from ``zero`` fill 255, and ``zero`` comes to ``to``."""
    return np.clip(np.rint((np.arange(256) - zero) * 255 / span + to), 0, 255).astype(np.uint8)
