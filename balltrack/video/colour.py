"""Colour as a file states it, and a picture's three planes turned into blue, green and red."""

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from balltrack.video.container import opened, video_stream
from balltrack.video.orientation import Bytes

BLACK, WHITE, COLOUR_SPAN = 16, 235, 224  # of limited range: Rec. ITU-R BT.601
UNSTATED = 2  # in all three lists of ITU-T H.273
PQ, HLG = 16, 18  # transfer characteristics of high dynamic range, ITU-T H.273 table 3
# Share of red and of blue in luma by H.273's matrix number: Rec. ITU-R BT.709, BT.601 (5 and 6) and BT.2020.
SHARES = {1: (0.2126, 0.0722), 5: (0.299, 0.114), 6: (0.299, 0.114), 9: (0.2627, 0.0593)}
HD_LINES = 720  # from here on a file that states no matrix means BT.709: common practice


@dataclass(frozen=True, slots=True)
class ColourTags:
    """What the numbers of a file mean, by the lists of ITU-T H.273."""

    primaries: int = UNSTATED
    transfer: int = UNSTATED
    matrix: int = UNSTATED

    @property
    def high_range(self) -> bool:
        """Whether the light is stored by a curve of high dynamic range, which is undone while frames are read."""
        return self.transfer in (PQ, HLG)


STANDARD = ColourTags(1, 1, 1)  # BT.709 throughout


def colour_tags(path: Path) -> ColourTags:
    """What the numbers of a clip's frames mean, as they are delivered. Raises VideoError where it cannot be opened."""
    with opened(path) as container:
        coder = video_stream(container, path).codec_context
        if not (coder.pix_fmt or "").startswith("yuv"):  # delivered as yuv by our own conversion
            return ColourTags()
        stated = ColourTags(int(coder.color_primaries), int(coder.color_trc), int(coder.colorspace))
        return STANDARD if stated.high_range else stated


def limited(planes: tuple[Bytes, Bytes, Bytes]) -> tuple[Bytes, Bytes, Bytes]:
    """Luma and colour differences of full range (0 to 255) as limited range, 16 to 235 and 16 to 240."""
    levels = np.arange(256)
    luma = np.rint(levels * ((WHITE - BLACK) / 255) + BLACK).astype(np.uint8)
    colour = np.rint((levels - 128.0) * (COLOUR_SPAN / 255) + 128).astype(np.uint8)
    return luma[planes[0]], colour[planes[1]], colour[planes[2]]


def bgr_of(planes: tuple[Bytes, Bytes, Bytes], tags: ColourTags) -> Bytes:
    """(h, w, 3) blue, green and red of limited-range planes (h, w), (h / 2, w / 2) twice."""
    height, width = planes[0].shape
    luma = (planes[0].astype(np.float32) - BLACK) * np.float32(255 / (WHITE - BLACK))
    cb, cr = (
        (cv2.resize(plane, (width, height), interpolation=cv2.INTER_LINEAR).astype(np.float32) - 128)
        * np.float32(255 / COLOUR_SPAN)
        for plane in planes[1:]
    )
    red, blue = SHARES.get(tags.matrix, SHARES[1] if min(height, width) >= HD_LINES else SHARES[6])
    green = 1 - red - blue
    channels = (
        luma + np.float32(2 * (1 - blue)) * cb,
        luma - np.float32(2 * (1 - blue) * blue / green) * cb - np.float32(2 * (1 - red) * red / green) * cr,
        luma + np.float32(2 * (1 - red)) * cr,
    )
    return np.asarray(np.clip(np.rint(np.stack(channels, axis=-1)), 0, 255), dtype=np.uint8)
