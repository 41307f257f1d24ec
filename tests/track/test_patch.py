"""Light, colours and noise of a patch against the formulas of gamma and of BT.709, written out in numpy."""

import cv2
import numpy as np
import pytest
from pytest import approx

from balltrack.detect.background import Background, Bytes
from balltrack.track.patch import Patch, patch_at
from balltrack.units import Floats
from balltrack.video.frames import Frame

SIDE_PX = 40
CENTRE_PX = np.array([19.5, 19.5])
# Pictures hold 32-bit numbers: of light, up to 1300 here, they keep 1e-4, and a difference of two errs twice. A step of
# an 8-bit code is 1 in the middle of the range.
ABS = 2e-4


def planes(rng: np.random.Generator) -> tuple[Bytes, Bytes, Bytes]:
    """Codes all over the range, the very ends included."""
    luma = rng.integers(0, 256, (SIDE_PX, SIDE_PX), dtype=np.uint8)
    cb, cr = (rng.integers(0, 256, (SIDE_PX // 2, SIDE_PX // 2), dtype=np.uint8) for _ in range(2))
    for k, (y, b, r) in enumerate([(255, 255, 0), (255, 0, 255), (255, 0, 0), (0, 255, 255), (0, 0, 0)]):
        luma[2 * k : 2 * k + 2], cb[k], cr[k] = y, b, r
    return luma, cb, cr


def whole(frame: tuple[Bytes, Bytes, Bytes], field: tuple[Bytes, Bytes, Bytes], noise: int = 2) -> Patch:
    luma, cb, cr = frame
    full, half = np.zeros_like(luma), np.zeros_like(cb)
    patch = patch_at(
        Frame(0, 0.0, luma, cb, cr), Background(*field, full, half, np.full_like(luma, noise)), CENTRE_PX, 30.0
    )
    assert patch is not None
    return patch


def light(share: Floats) -> Floats:
    """Of a share of white: a gamma of 2.2, of slope 1 for a code where the share is a half."""
    return np.asarray(219 * 0.5 / 2.2 * (np.maximum(share, 0) / 0.5) ** 2.2)


def slope(share: Floats) -> Floats:
    return np.asarray((np.maximum(share, 0) / 0.5) ** 1.2)


def seen(codes: tuple[Bytes, Bytes, Bytes]) -> tuple[Floats, Floats]:
    """Shares of white where colours are stored, a quarter of a column right of every second: of grey, and R, G, B."""
    luma, cb, cr = (plane.astype(np.float64) for plane in codes)
    rows = (luma[0::2] + luma[1::2]) / 2
    before = np.concatenate([rows[:, :1], rows[:, 1:-1:2]], axis=1)
    grey = ((4 * rows[:, 0::2] + 3 * rows[:, 1::2] + before) / 8 - 16) / 219  # 1/4 px off: weights 1, 4, 3 of 8
    blue, red = (cb - 128) / 224, (cr - 128) / 224
    # ITU-R BT.709: R = Y + 1.5748 Cr, B = Y + 1.8556 Cb, G = Y - 0.4681 Cr - 0.1873 Cb
    green = grey - 1.5748 * 0.2126 / 0.7152 * red - 1.8556 * 0.0722 / 0.7152 * blue
    return grey, np.stack([grey + 1.5748 * red, green, grey + 1.8556 * blue])


def colours(codes: tuple[Bytes, Bytes, Bytes]) -> Floats:
    """(2, h', w') light of blue and of red beyond brightness."""
    red, green, blue = light(seen(codes)[1])
    bright = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    return np.stack([blue - bright, red - bright])


def test_brightness_and_colours_are_light_less_what_the_whole_patch_changed_by() -> None:
    rng = np.random.default_rng(1)
    frame, field = planes(rng), planes(rng)
    patch = whole(frame, field)
    shown, behind = (light((codes[0].astype(np.float64) - 16) / 219) for codes in (frame, field))
    change, colour_change = shown - behind, colours(frame) - colours(field)
    assert patch.luma_field == approx(behind, abs=ABS)
    assert patch.colour_field == approx(colours(field), abs=ABS)
    assert patch.luma == approx(change - np.sort(change, axis=None)[change.size // 2], abs=ABS)
    for got, told in zip(patch.colour, colour_change, strict=True):
        assert got == approx(told - np.sort(told, axis=None)[told.size // 2], abs=ABS)


def test_noise_is_that_of_codes_times_the_slope_of_light_over_them() -> None:
    rng = np.random.default_rng(2)
    frame = planes(rng)
    patch = whole(frame, planes(rng), noise=3)
    near = cv2.blur(slope((frame[0].astype(np.float64) - 16) / 219), (3, 3))
    assert patch.luma_sd == approx(3 * np.maximum(near, 0.4), abs=ABS)
    grey, (red, _, blue) = seen(frame)
    for got, shade, share in zip(patch.colour_sd, (blue, red), (1.8556, 1.5748), strict=True):
        own = np.maximum(slope(shade), 0.4)
        # A colour's own code, 2.5 at a scale of 219 for 224, and half of luma's noise, for it is the mean of four.
        sd = np.hypot(own * share * 219 / 224 * 2.5, (own - slope(grey)) * 3 / 2)
        assert got == approx(cv2.blur(sd, (3, 3)), abs=ABS)


def test_grey_has_no_colour() -> None:
    rng = np.random.default_rng(3)
    none = np.full((SIDE_PX // 2, SIDE_PX // 2), 128, np.uint8)
    patch = whole((planes(rng)[0], none, none), (planes(rng)[0], none, none))
    assert patch.colour == approx(np.zeros_like(patch.colour), abs=ABS)
    assert patch.colour_field == approx(np.zeros_like(patch.colour), abs=ABS)


@pytest.mark.parametrize("factor", [1, 2])
def test_a_part_shows_the_same_at_the_same_place(factor: int) -> None:
    rng = np.random.default_rng(4)
    patch = whole(planes(rng), planes(rng)).coarser(factor)
    place_px = np.array([21.3, 17.8])
    part, place = patch.around(place_px, 8.0)
    assert place + part.corner_px == approx(place_px + patch.corner_px)
    top, left = (round(off) for off in (patch.cells(place_px) - part.cells(place))[::-1])
    height, width = part.size
    assert max(height, width) * factor <= 2 * 8.0 + 2 * factor
    rows, columns = slice(top, top + height), slice(left, left + width)
    assert np.array_equal(part.luma, patch.luma[rows, columns])
    assert np.array_equal(part.luma_sd, patch.luma_sd[rows, columns])
    step = patch.colour_step
    rows, columns = slice(top // step, (top + height) // step), slice(left // step, (left + width) // step)
    assert np.array_equal(part.colour_field, patch.colour_field[:, rows, columns])
    u, v = np.abs(part.cells(place) - np.array([width - 1, height - 1]) / 2)
    assert max(u, v) <= step  # it lies in the middle


def test_a_part_too_small_to_look_at_is_the_whole() -> None:
    rng = np.random.default_rng(5)
    patch = whole(planes(rng), planes(rng))
    place_px = np.array([1.0, 20.0])
    part, place = patch.around(place_px, 3.0)
    assert part is patch
    assert np.array_equal(place, place_px)
