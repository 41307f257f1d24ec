"""The picture on which the field is marked: the first clip's field, sharp and without what moves."""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.camera.still import Still
from balltrack.desk.clips import first_clip
from balltrack.detect.background import median_background
from balltrack.detect.samples import Samples
from balltrack.setup import STILL_S
from balltrack.video.clip import ClipInfo, probe
from balltrack.video.frames import read_frames

FRAMES = 15  # of the seconds by which later clips are held against the first: a batter's step within them goes

# From luma and colour differences to red, green and blue: ITU-R BT.709, in which phones store HD video. Rows: r, g, b;
# columns: luma, cb, cr.
BT709 = np.array([[1.0, 0.0, 1.5748], [1.0, -0.1873, -0.4681], [1.0, 1.8556, 0.0]], np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A still with where it is from, and the same as a file for the page."""

    info: ClipInfo
    still: Still
    png: bytes


def first_picture(folder: Path) -> Picture:
    """The still of a lesson's first readable clip.

    Raises
    ------
    LessonError
        If no clip can be read.
    VideoError
        If it holds too few pictures.
    """
    path = first_clip(folder).path
    stat = path.stat()
    return _picture(path, stat.st_mtime_ns, stat.st_size)


@lru_cache(maxsize=2)
def _picture(path: Path, _changed_ns: int, _size: int) -> Picture:
    info = probe(path)
    samples = Samples()
    for frame in read_frames(path, None, None, info=info):
        samples.add(frame)
        if frame.time_s > STILL_S:
            break
    shown = median_background(samples.spread(FRAMES))
    still = Still(shown.luma, shown.cb, shown.cr)
    return Picture(info, still, png_of(still, info.full_range))


def png_of(still: Still, full_range: bool) -> bytes:
    """The still in colour, without loss."""
    width, height = still.size_px
    black, white, colour = (0.0, 255.0, 255.0) if full_range else (16.0, 219.0, 224.0)  # BT.709: luma 16..235
    planes = [still.luma, *(cv2.resize(plane, (width, height)) for plane in (still.cb, still.cr))]
    scale = [255.0 / white, 255.0 / colour, 255.0 / colour]
    zero = [black, 128.0, 128.0]
    stack = np.stack([(plane - np.float32(o)) * np.float32(s) for plane, o, s in zip(planes, zero, scale, strict=True)])
    rgb: NDArray[np.float32] = np.einsum("ck,khw->hwc", BT709, stack)
    done, data = cv2.imencode(".png", np.clip(rgb[:, :, ::-1] + 0.5, 0, 255).astype(np.uint8))
    assert done  # a picture in memory
    return data.tobytes()
