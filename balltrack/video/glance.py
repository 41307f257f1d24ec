"""Small pictures of a stretch of film, some thirty a second: enough to see what moves where, at less than the cost of
decoding it in full."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import cv2
import numpy as np
from av.video.frame import VideoFrame
from numpy.typing import NDArray

from balltrack.video.clip import ClipInfo
from balltrack.video.container import DECODER_LIMITS, decode, go_to, opened, packets, video_stream
from balltrack.video.orientation import Bytes

LONGEST_SIDE = 319  # pixels of a small picture: at 1080p and at 4K it is 240 x 135
LEAST_GAP_S = 0.03  # between two of them, real seconds
_WITH_LUMA = ("yuv420p", "yuvj420p", "yuv420p10le", "yuv420p12le")  # formats whose first plane is read as it is
_REORDER_FRAMES = 8  # a key frame may be shown this many frames after its place in the file; phones reorder 1 to 3


@dataclass(frozen=True, slots=True, eq=False)
class Glance:
    """One small picture, upright."""

    time_s: float  # clip time, real seconds
    luma: Bytes  # (h, w), neither above LONGEST_SIDE


def glances(info: ClipInfo, start_s: float, stop_s: float) -> Iterator[Glance]:
    """Small pictures with ``start_s <= time_s < stop_s`` at least LEAST_GAP_S apart, in order of time.

    The decoder leaves out its last step, the smoothing of block edges, which costs a quarter of its time and which a
    picture of a tenth of the size does not show.

    Raises
    ------
    VideoError
        If the clip cannot be opened.
    """
    with opened(info.path) as container:
        stream = video_stream(container, info.path)
        stream.thread_count = 1
        stream.codec_context.options = {**DECODER_LIMITS, "skip_loop_filter": "all"}
        base = stream.time_base or Fraction(1)
        rate = float(stream.average_rate or 30)
        margin_s = _REORDER_FRAMES / rate
        target = int((start_s / info.time_scale - margin_s) / base)
        if target > (stream.start_time or 0):
            go_to(container, stream, target)
        last_s = -np.inf
        for packet in packets(container, stream):
            for picture in decode(stream, packet)[0]:
                if picture.pts is None:
                    continue
                time_s = float(picture.pts * base) * info.time_scale
                if time_s >= stop_s:
                    return
                if time_s >= start_s and time_s - last_s >= LEAST_GAP_S:
                    last_s = time_s
                    yield Glance(time_s, info.orientation.upright(_small(picture)))


def _small(picture: VideoFrame) -> Bytes:
    """The picture's luma as stored, halved until it is small: each pixel the mean of what it shows."""
    if picture.format.name not in _WITH_LUMA:
        picture = picture.reformat(format="yuv420p")
    plane = picture.planes[0]
    bits = picture.format.components[0].bits
    if bits == 8:
        part: NDArray[Any] = np.frombuffer(memoryview(plane), np.uint8).reshape(plane.height, -1)[:, : plane.width]
    else:
        part = np.frombuffer(memoryview(plane), np.uint16).reshape(plane.height, -1)[:, : plane.width]
    while max(part.shape) > LONGEST_SIDE and min(part.shape) > 1:
        half = part.shape[1] // 2, part.shape[0] // 2
        even = part[: 2 * half[1], : 2 * half[0]]
        part = np.asarray(cv2.resize(even, half, interpolation=cv2.INTER_AREA), part.dtype)
    return np.asarray(part >> (bits - 8), np.uint8)
