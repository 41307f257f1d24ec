"""From views of a flat board to a lens, with an uncertainty that holds for more than the views at hand.

The model is that of `camera.model`: one focal length, one radial term, a principal point.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from balltrack.camera.board import Corners
from balltrack.errors import CalibrationError
from balltrack.units import Floats

# One focal length, k1 alone. OpenCV's k1 is the camera model's: x_d = x_u (1 + k1 r²), pixel centres at whole numbers.
_FLAGS = (
    cv2.CALIB_FIX_ASPECT_RATIO
    | cv2.CALIB_ZERO_TANGENT_DIST
    | cv2.CALIB_FIX_K2
    | cv2.CALIB_FIX_K3
    | cv2.CALIB_USE_INTRINSIC_GUESS
)
FOCAL, CX, CY, K1 = range(4)
FEWEST_VIEWS = 8
WORST_RMS_SHARE = 1 / 1920  # of the longer side: sharp corners of a flat, still board miss by a third of it or less
WORST_FOCAL_SHARE = 0.015  # behind five plate corners alone the marks reach 3 %: a calibration must clearly beat that
WORST_VIEW_RATIO = 3.0  # a view that misses by more than so many times the median was moved or bent
HALVINGS = 12
# What the views cannot tell: an optical stabiliser's rest place, and distortion that is not quite k1. Judgement.
LEAST_CENTRE_SHARE, LEAST_K1_SD = 0.0015, 0.002
PAPER_SHARE = 0.001  # a glued sheet's bow and a printer's stretch change the focal length by about so much: judgement
# A phone focuses by moving its lens: seen from a board at distance d the image lies f (1 + f/d) behind it. No phone's
# main lens is longer than about 7 mm (from memory), so that focus at the board and at the field differ by f/d or less.
PHONE_FOCAL_M = 0.007


@dataclass(frozen=True, slots=True, eq=False)
class Calibration:
    """A lens as a board showed it."""

    size_px: tuple[int, int]  # width, height
    focal_px: float
    k1: float
    centre_px: tuple[float, float]
    focal_sd_px: float  # of all: views, paper, a second distortion term, focus
    k1_sd: float
    centre_sd_px: float
    views_sd_px: float  # of the focal length, by the views alone
    rms_px: float  # distance from corners seen to corners expected
    views: int
    distance_m: float  # from the lens to the board, median


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """One adjustment to some views."""

    lens: Floats  # (4,) focal length [px], principal point [px], k1
    sd: Floats  # (4,) by the corners' scatter, as if each corner erred by itself
    rms_px: float
    view_rms_px: Floats  # (n,)
    distance_m: Floats  # (n,)


def calibrate(views: Sequence[Corners], size_px: tuple[int, int], focus_locked: bool = False) -> Calibration:
    """Calibrate a lens.

    Parameters
    ----------
    views : sequence of Corners
        At least 8, of a board that is tilted this way and that.
    size_px : (int, int)
        Width and height of the picture that the corners are pixels of.
    focus_locked : bool
        Whether the phone kept the focus that it has on the field. If not, the focus that it sought adds doubt.

    Returns
    -------
    Calibration
        The standard deviations are the greater of two: from the corners' scatter, and from calibrating halves of the
        views (the delete-half jackknife of Shao & Wu, Annals of Statistics 17 (1989) 1176), which also sees what all
        corners of one view share: a bow of the paper, a hand's tremble.

    Raises
    ------
    CalibrationError
        If views are too few, the corners miss by too much, or the focal length stays too loose.

    References
    ----------
    Zhang, A flexible new technique for camera calibration, IEEE PAMI 22 (2000) 1330; as OpenCV implements it.
    """
    check_count(len(views))
    kept, fit = _without_bad_views(views, size_px)
    limit_px = WORST_RMS_SHARE * max(size_px)
    if fit.rms_px > limit_px:
        raise CalibrationError(
            f"the board's corners miss by {fit.rms_px:.1f} px (limit {limit_px:.1f} px); glue the board flat, hold it "
            "still, lock the focus, switch stabilisation off, and film it again in good light"
        )
    sd = np.maximum(fit.sd, _half_views_sd(kept, size_px, fit))
    distance_m = float(np.median(fit.distance_m))
    extra_px = _second_term_px(kept, size_px, fit)
    focus_share = 0.0 if focus_locked else 0.5 * PHONE_FOCAL_M / distance_m
    focal_px = float(fit.lens[FOCAL])
    focal_sd_px = float(np.sqrt(sd[FOCAL] ** 2 + extra_px**2 + focal_px**2 * (focus_share**2 + PAPER_SHARE**2)))
    if max(sd[FOCAL], extra_px) > WORST_FOCAL_SHARE * focal_px:
        raise CalibrationError(
            f"the board gives the focal length only to {100 * max(sd[FOCAL], extra_px) / focal_px:.1f} % (limit "
            f"{100 * WORST_FOCAL_SHARE:.1f} %); tilt it by 30 to 45 degrees each way, nearer to the phone"
        )
    return Calibration(
        size_px=size_px,
        focal_px=focal_px,
        k1=float(fit.lens[K1]),
        centre_px=(float(fit.lens[CX]), float(fit.lens[CY])),
        focal_sd_px=focal_sd_px,
        k1_sd=float(np.hypot(sd[K1], LEAST_K1_SD)),
        centre_sd_px=float(np.hypot(np.sqrt(0.5 * (sd[CX] ** 2 + sd[CY] ** 2)), LEAST_CENTRE_SHARE * max(size_px))),
        views_sd_px=float(sd[FOCAL]),
        rms_px=fit.rms_px,
        views=len(kept),
        distance_m=distance_m,
    )


def check_count(views: int) -> None:
    """Raise a CalibrationError where there are too few views."""
    if views < FEWEST_VIEWS:
        raise CalibrationError(
            f"the board is seen sharply in {views} ways, at least {FEWEST_VIEWS} are needed; film it for 30 s or more, "
            "holding it still for a second each: tilted each way, near and in every corner of the picture"
        )


def first_guess(size_px: tuple[int, int]) -> Floats:
    """(3, 3) matrix of a phone's usual lens: 64 degrees along the longer side, the axis in the middle."""
    focal_px, (width, height) = 0.8 * max(size_px), size_px
    return np.array([[focal_px, 0.0, (width - 1) / 2], [0.0, focal_px, (height - 1) / 2], [0.0, 0.0, 1.0]])


def _without_bad_views(views: Sequence[Corners], size_px: tuple[int, int]) -> tuple[list[Corners], _Fit]:
    kept = list(views)
    fit = _fit(kept, size_px)
    good = fit.view_rms_px < WORST_VIEW_RATIO * np.median(fit.view_rms_px)
    if good.all() or np.count_nonzero(good) < FEWEST_VIEWS:
        return kept, fit
    kept = [view for view, keep in zip(kept, good, strict=True) if keep]
    return kept, _fit(kept, size_px)


def _fit(views: Sequence[Corners], size_px: tuple[int, int], second_term: bool = False) -> _Fit:
    points = [view.points_m.astype(np.float32) for view in views]
    pixels = [view.pixels.astype(np.float32).reshape(-1, 1, 2) for view in views]
    guess = first_guess(size_px)
    flags = _FLAGS & ~cv2.CALIB_FIX_K2 if second_term else _FLAGS
    try:
        rms, matrix, distortion, _, shifts, sd, _, view_rms = cv2.calibrateCameraExtended(
            points, pixels, size_px, guess, np.zeros(5), flags=flags
        )
    except cv2.error:
        raise CalibrationError(
            "the board's views give no lens at all; film the board again, tilted each way, filling the picture"
        ) from None
    lens = np.array([matrix[1, 1], matrix[0, 2], matrix[1, 2], np.ravel(distortion)[0]], dtype=np.float64)
    # With one focal length OpenCV gives its uncertainty in the place of fy, and nought in that of fx.
    spread = np.ravel(sd).astype(float)[[1, 2, 3, 4]]
    distance_m = np.array([np.linalg.norm(shift) for shift in shifts])
    return _Fit(lens, spread, float(rms), np.ravel(view_rms).astype(float), distance_m)


def _half_views_sd(views: Sequence[Corners], size_px: tuple[int, int], whole: _Fit) -> Floats:
    """(4,) root mean square of half minus whole: halves scatter about the whole as the whole does about the truth."""
    random = np.random.default_rng(len(views))
    shifts = []
    for _ in range(HALVINGS // 2):
        order = random.permutation(len(views))
        for half in (order[::2], order[1::2]):
            shifts.append(_fit([views[i] for i in half], size_px).lens - whole.lens)
    return np.asarray(np.sqrt(np.mean(np.square(shifts), axis=0)))


def _second_term_px(views: Sequence[Corners], size_px: tuple[int, int], one: _Fit) -> float:
    """By how much a second distortion term would move the focal length, beyond what chance moves it. [px]

    Where one term is the truth, the shift's variance is the difference of the two variances (Hausman, Econometrica 46
    (1978) 1251).
    """
    two = _fit(views, size_px, second_term=True)
    shift_px = two.lens[FOCAL] - one.lens[FOCAL]
    return float(np.sqrt(max(0.0, shift_px**2 - max(0.0, two.sd[FOCAL] ** 2 - one.sd[FOCAL] ** 2))))
