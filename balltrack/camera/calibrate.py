"""From views of a flat board to a lens, with an uncertainty that holds for more than the views at hand.

The model is that of `camera.model`: one focal length, one radial term, a principal point.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from balltrack.camera.board import Corners
from balltrack.camera.board_fit import CX, CY, FOCAL, K1, BoardFit, adjust_board
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
FEWEST_VIEWS = 8
WORST_RMS_SHARE = 1 / 1920  # of the longer side: sharp corners of a flat, still board miss by a third of it or less
WORST_FOCAL_SHARE = 0.015  # behind five plate corners alone the marks reach 3 %: a calibration must clearly beat that
WORST_VIEW_RATIO = 3.0  # a view that misses by more than so many times the median was moved or bent
HALVINGS = 12
# What the views cannot tell: an optical stabiliser's rest place, and distortion that is not quite k1. Judgement.
LEAST_CENTRE_SHARE, LEAST_K1_SD = 0.0015, 0.002
LEAST_FOCAL_SHARE = 0.0015  # to which a phone's lens comes back to a locked focus, on another day: judgement
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
    focal_sd_px: float  # of all: views, a second distortion term, focus, another day
    k1_sd: float
    centre_sd_px: float
    views_sd_px: float  # of the focal length, by the views alone
    rms_px: float  # distance from corners seen to corners expected
    views: int
    distance_m: float  # from the lens to the board, median


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
        corners of one view share, such as a hand's tremble.

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
    sd = np.maximum(fit.sd, _half_views_sd(kept, fit))
    distance_m = float(np.median(fit.distances_m))
    extra_px = _second_term_px(kept, fit)
    focus_share = 0.0 if focus_locked else 0.5 * PHONE_FOCAL_M / distance_m
    focal_px = float(fit.lens[FOCAL])
    focal_sd_px = float(np.sqrt(sd[FOCAL] ** 2 + extra_px**2 + focal_px**2 * (focus_share**2 + LEAST_FOCAL_SHARE**2)))
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


def _without_bad_views(views: Sequence[Corners], size_px: tuple[int, int]) -> tuple[list[Corners], BoardFit]:
    kept = list(views)
    fit = adjust_board(kept, *_start(kept, size_px))
    good = fit.view_rms_px < WORST_VIEW_RATIO * np.median(fit.view_rms_px)
    if good.all() or np.count_nonzero(good) < FEWEST_VIEWS:
        return kept, fit
    kept = [view for view, keep in zip(kept, good, strict=True) if keep]
    return kept, adjust_board(kept, fit.lens, fit.poses[good], fit.shape)


def _start(views: Sequence[Corners], size_px: tuple[int, int]) -> tuple[Floats, Floats]:
    """(4,) lens and (n, 6) poses, by OpenCV's calibration, which takes the board for flat."""
    points = [view.points_m.astype(np.float32) for view in views]
    pixels = [view.pixels.astype(np.float32).reshape(-1, 1, 2) for view in views]
    try:
        _, matrix, distortion, turns, shifts = cv2.calibrateCamera(
            points, pixels, size_px, first_guess(size_px), np.zeros(5), flags=_FLAGS
        )
    except cv2.error:
        raise CalibrationError(
            "the board's views give no lens at all; film the board again, tilted each way, filling the picture"
        ) from None
    lens = np.array([matrix[1, 1], matrix[0, 2], matrix[1, 2], np.ravel(distortion)[0]], dtype=np.float64)
    poses = np.array([[*np.ravel(turn), *np.ravel(shift)] for turn, shift in zip(turns, shifts, strict=True)])
    return lens, poses.astype(float)


def _half_views_sd(views: Sequence[Corners], whole: BoardFit) -> Floats:
    """(4,) root mean square of half minus whole: halves scatter about the whole as the whole does about the truth."""
    random = np.random.default_rng(len(views))
    shifts = []
    for _ in range(HALVINGS // 2):
        order = random.permutation(len(views))
        for half in (order[::2], order[1::2]):
            fit = adjust_board([views[i] for i in half], whole.lens, whole.poses[half], whole.shape)
            shifts.append(fit.lens - whole.lens)
    return np.asarray(np.sqrt(np.mean(np.square(shifts), axis=0)))


def _second_term_px(views: Sequence[Corners], one: BoardFit) -> float:
    """By how much a second distortion term would move the focal length, beyond what chance moves it. [px]

    Where one term is the truth, the shift's variance is the difference of the two variances (Hausman, Econometrica 46
    (1978) 1251).
    """
    two = adjust_board(views, np.append(one.lens, 0.0), one.poses, one.shape)
    shift_px = two.lens[FOCAL] - one.lens[FOCAL]
    return float(np.sqrt(max(0.0, shift_px**2 - max(0.0, two.sd[FOCAL] ** 2 - one.sd[FOCAL] ** 2))))
