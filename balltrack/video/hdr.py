"""High dynamic range undone: pictures in hybrid log-gamma or perceptual quantiser as those of standard range.

A film's light is brought to one scale, on which 1 is a white sheet of paper in the picture; a knee keeps what is
brighter from clipping, so that a white ball in the sun keeps its edge and its shade.
"""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from av.video.frame import VideoFrame
from av.video.plane import VideoPlane
from numpy.typing import NDArray

from balltrack.units import Floats
from balltrack.video.colour import BLACK, COLOUR_SPAN, PQ, SHARES, WHITE, ColourTags
from balltrack.video.orientation import Bytes

WIDE, STANDARD = 9, 1  # BT.2020 and BT.709 among its primaries and its matrices
P3 = 12  # SMPTE EG 432-1, the primaries of phones' screens
# White and the three primaries in CIE xy: Rec. ITU-R BT.709, BT.2020, SMPTE EG 432-1; all three share the white D65.
_WHITE_XY = (0.3127, 0.3290)
_PRIMARIES_XY = {
    STANDARD: ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060)),
    WIDE: ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),
    P3: ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
}
_PAPER_NITS, _PAPER_HLG = 203.0, 0.75  # a white sheet of paper: Rep. ITU-R BT.2408, table 1
# Of the signal of standard range, from here up what is brighter is squeezed in (judgement, no source).
KNEE = 0.8
_DEEP = 1023  # largest code of 10 bits
_LUMA_STEPS, _CHROMA_STEP = 64, 4  # the table of colours is exact at every 4th chroma level and straight between


@dataclass(frozen=True, slots=True, eq=False)
class _Tables:
    """What each stored level becomes."""

    luma: Bytes  # (1024,) by the luma of 10 bits; limited range
    colour: NDArray[np.uint8]  # (64 * 256 * 256, 2) by new luma, old cb and cr: new cb and cr


def standard_planes(picture: VideoFrame, tags: ColourTags, full_range: bool) -> tuple[Bytes, Bytes, Bytes]:
    """Luma (h, w) and colour differences (h / 2, w / 2) of BT.709 and limited range, 8 bits."""
    luma, cb, cr = (_codes(plane) for plane in _as_ten_bits(picture).planes)
    tables = _tables(tags, full_range)
    shown = tables.luma.take(luma, mode="clip")
    size = (cb.shape[1], cb.shape[0])
    small = np.asarray(cv2.resize(shown, size, interpolation=cv2.INTER_AREA), np.uint8)
    flat = [cv2.convertScaleAbs(plane, alpha=0.25) for plane in (cr, cb)]
    where = cv2.merge([*flat, small >> 2, np.zeros_like(small)]).view("<u4")[:, :, 0]  # four bytes are one number
    new = tables.colour.view(np.uint16)[:, 0].take(where, mode="clip").view(np.uint8).reshape(*small.shape, 2)
    return shown, np.ascontiguousarray(new[:, :, 0]), np.ascontiguousarray(new[:, :, 1])


def light_of(signal: Floats, transfer: int) -> Floats:
    """Light of a signal from 0 to 1, where 1 is a white sheet of paper.

    PQ: Rec. ITU-R BT.2100 table 4, the light of the screen; HLG: table 5, the inverse OETF, the light of the scene.
    """
    if transfer == PQ:
        m1, m2, c1, c2, c3 = 2610 / 16384, 2523 / 4096 * 128, 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
        root = np.clip(signal, 0, 1) ** (1 / m2)
        return np.asarray(10000 / _PAPER_NITS * (np.maximum(root - c1, 0) / (c2 - c3 * root)) ** (1 / m1))
    return _hlg_light(np.clip(signal, 0, 1)) / float(_hlg_light(np.array(_PAPER_HLG)))


def _hlg_light(signal: Floats) -> Floats:
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    return np.asarray(np.where(signal <= 0.5, signal**2 / 3, (np.exp((signal - c) / a) + b) / 12))


def signal_of(light: Floats, transfer: int) -> Floats:
    """Signal of standard range, 0 to 1, of light of which 1 is a white sheet of paper, and a knee.

    Light of the scene by the camera's curve, Rec. ITU-R BT.709; light of a screen by the screen's, BT.1886.
    """
    light = np.maximum(light, 0)
    if transfer == PQ:
        signal = np.asarray(light ** (1 / 2.4))
    else:
        signal = np.where(light < 0.018, 4.5 * light, 1.099 * np.maximum(light, 0.018) ** 0.45 - 0.099)
    room = 1 - KNEE
    return np.asarray(np.where(signal <= KNEE, signal, KNEE + room * (1 - np.exp(-(signal - KNEE) / room))))


@lru_cache(maxsize=4)
def _tables(tags: ColourTags, full_range: bool) -> _Tables:
    low, span = (0, _DEEP) if full_range else (4 * BLACK, 4 * (WHITE - BLACK))
    stored = np.clip((np.arange(_DEEP + 1) - low) / span, 0, 1)
    signal = signal_of(light_of(stored, tags.transfer), tags.transfer)
    luma = np.rint(BLACK + (WHITE - BLACK) * signal).astype(np.uint8)
    middles = (np.arange(_LUMA_STEPS) * 4 + 1.5 - BLACK) / (WHITE - BLACK)
    old_luma = np.interp(middles, signal, stored)
    return _Tables(luma, _colour_table(old_luma, tags, 255 if full_range else COLOUR_SPAN))


def _colour_table(old_luma: Floats, tags: ColourTags, span: int) -> NDArray[np.uint8]:
    level = np.arange(0, 257, _CHROMA_STEP)
    old = np.stack(np.meshgrid(old_luma, (level - 128) / span, (level - 128) / span, indexing="ij"), axis=-1)
    light = light_of(np.clip(_rgb(old, tags.matrix), 0, 1), tags.transfer) @ _to_standard(tags.primaries).T
    new: NDArray[np.float32] = _differences(signal_of(light, tags.transfer)).astype(np.float32)  # (64, 65, 65, 2)
    for axis in (1, 2):
        new = _drawn_out(new, axis)
    return np.asarray(np.rint(128 + COLOUR_SPAN * np.clip(new, -0.5, 0.5)).reshape(-1, 2), np.uint8)


def _drawn_out(values: NDArray[np.float32], axis: int) -> NDArray[np.float32]:
    """Straight lines between every 4th of 257 levels, without the last."""
    values = np.asarray(np.moveaxis(values, axis, 0), np.float32)
    share = (np.arange(_CHROMA_STEP, dtype=np.float32) / _CHROMA_STEP).reshape(1, -1, *[1] * (values.ndim - 1))
    between = values[:-1, None] * (1 - share) + values[1:, None] * share
    return np.asarray(np.moveaxis(between.reshape(-1, *values.shape[1:]), 0, axis), np.float32)


def _rgb(luma_cb_cr: Floats, matrix: int) -> Floats:
    """(..., 3) red, green, blue of luma 0 to 1 and differences -0.5 to 0.5, all as signals."""
    red, blue = SHARES.get(matrix, SHARES[WIDE])
    luma, cb, cr = np.moveaxis(luma_cb_cr, -1, 0)
    r, b = luma + 2 * (1 - red) * cr, luma + 2 * (1 - blue) * cb
    return np.stack([r, (luma - red * r - blue * b) / (1 - red - blue), b], axis=-1)


def _differences(rgb: Floats) -> Floats:
    """(..., 2) colour differences of BT.709."""
    red, blue = SHARES[STANDARD]
    luma = rgb @ np.array([red, 1 - red - blue, blue])
    return np.stack([(rgb[..., 2] - luma) / (2 * (1 - blue)), (rgb[..., 0] - luma) / (2 * (1 - red))], axis=-1)


def _to_standard(primaries: int) -> Floats:
    """(3, 3) linear red, green, blue of some primaries into those of BT.709: SMPTE RP 177, by their xy."""
    own = _PRIMARIES_XY.get(primaries, _PRIMARIES_XY[WIDE])
    return np.asarray(np.linalg.solve(_xyz_of(_PRIMARIES_XY[STANDARD]), _xyz_of(own)), np.float64)


def _xyz_of(primaries_xy: tuple[tuple[float, float], ...]) -> Floats:
    columns = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in primaries_xy]).T
    x, y = _WHITE_XY
    return np.asarray(columns * np.linalg.solve(columns, np.array([x / y, 1.0, (1 - x - y) / y])))


def _as_ten_bits(picture: VideoFrame) -> VideoFrame:
    return picture if picture.format.name == "yuv420p10le" else picture.reformat(format="yuv420p10le")


def _codes(plane: VideoPlane) -> NDArray[np.uint16]:
    """(h, w) view of a plane of 10 bits."""
    return np.frombuffer(memoryview(plane), np.uint16).reshape(plane.height, plane.line_size // 2)[:, : plane.width]
