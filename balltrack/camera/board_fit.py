"""Least-squares adjustment of one lens, one board's true shape, and its poses, to the corners seen.

Paper is never flat: a sheet glued on by its ends bows by a millimetre, a printer feeds it a little short. All views
share that, so that no number of views would average it out; it must be adjusted together with the lens.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from balltrack.camera.board import Corners
from balltrack.units import Floats

FOCAL, CX, CY, K1, K2 = range(5)
_LENS_COLUMNS = [(6, 7), (8,), (9,), (10,), (11,)]  # of cv2.projectPoints' slopes: focal length is fx and fy
SHAPE = 4  # bow across, bow along, twist, stretch along
# One sd: a sheet that reaches 12 cm from its middle stands 1 mm off there, and is printed 0.3 % too short. Judgement.
SHAPE_SD = np.array([0.008, 0.008, 0.008, 0.003])
ROUNDS, SETTLED = 30, 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class BoardFit:
    """A lens adjusted to views."""

    lens: Floats  # (4,) or (5,): focal length, principal point [px], k1, k2
    sd: Floats  # of the same, by the corners' scatter, as if each corner erred by itself
    shape: Floats  # (4,) bow and stretch of the board, see ``SHAPE_SD``
    poses: Floats  # (n, 6) rotation vector and shift [m], board to camera
    view_rms_px: Floats  # (n,) root mean square distance from corners seen to corners expected
    rms_px: float

    @property
    def distances_m(self) -> Floats:
        """(n,) from the lens to the board's own origin."""
        return np.asarray(np.linalg.norm(self.poses[:, 3:], axis=1))


def adjust_board(views: Sequence[Corners], lens: Floats, poses: Floats, shape: Floats | None = None) -> BoardFit:
    """Adjust from a start nearby.

    Parameters
    ----------
    views : sequence of Corners
        Of one board.
    lens : (4,) or (5,) array
        To start from; with five parameters a second distortion term is adjusted, too.
    poses : (n, 6) array
        To start from.
    shape : (4,) array, optional
        To start from.

    References
    ----------
    Strobl & Hirzinger, More accurate pinhole camera calibration with imperfect planar target, ICCV Workshops 2011, for
    the idea; here with two curvatures, a twist and a stretch instead of every corner's place.
    """
    places = _places(views)
    x = np.concatenate([lens, np.zeros(SHAPE) if shape is None else shape, poses.ravel()])
    noise_px, damping = 0.3, 1e-6
    misfit, slopes = _linear(views, places, x, len(lens))
    cost = np.inf
    for _ in range(ROUNDS):
        normal, pull, before = _normal_equations(misfit, slopes, x, len(lens), noise_px)
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), pull)
        tried, tried_slopes = _linear(views, places, x + step, len(lens))
        cost = _cost(tried, x + step, len(lens), noise_px)
        if cost > before * (1 + SETTLED):
            damping = max(10 * damping, 1e-6)
            if damping > 1e6:
                break
            continue
        x, misfit, slopes, damping = x + step, tried, tried_slopes, damping / 10
        noise_px = float(np.sqrt(misfit @ misfit / max(len(misfit) - len(x), 1)) + 1e-9)
        if before - cost < SETTLED * before:
            break
    normal, _, _ = _normal_equations(misfit, slopes, x, len(lens), noise_px)
    sd = np.sqrt(np.diag(np.linalg.pinv(normal, hermitian=True)))[: len(lens)]
    squares = misfit.reshape(-1, 2) ** 2
    owner = np.repeat(np.arange(len(views)), [len(view.pixels) for view in views])
    per_view = np.bincount(owner, squares.sum(axis=1)) / np.bincount(owner)
    found_poses = x[len(lens) + SHAPE :].reshape(-1, 6)
    found_shape = x[len(lens) : len(lens) + SHAPE]
    rms_px = float(np.sqrt(squares.sum(axis=1).mean()))
    return BoardFit(x[: len(lens)], np.asarray(sd, float), found_shape, found_poses, np.sqrt(per_view), rms_px)


def _places(views: Sequence[Corners]) -> list[Floats]:
    """Each view's corners (n, 2) from the board's middle, over half its longer side; and that half side last [m]."""
    every = np.concatenate([view.points_m[:, :2] for view in views])
    low, high = every.min(axis=0), every.max(axis=0)
    half_m = 0.5 * float((high - low).max())
    middle = 0.5 * (low + high)
    return [
        np.column_stack([(view.points_m[:, :2] - middle) / half_m, np.full(len(view.points_m), half_m)])
        for view in views
    ]


def _shaped(flat_m: Floats, place: Floats, shape: Floats) -> tuple[Floats, Floats]:
    """(n, 3) corners of the board as it is [m], and (n, 3, 4) their slopes by the shape."""
    across, along, half_m = place.T
    slopes = np.zeros((len(place), 3, SHAPE))
    slopes[:, 2, :3] = half_m[:, None] * np.column_stack([across**2, along**2, across * along])
    slopes[:, 1, 3] = half_m * along
    return flat_m + slopes @ shape, slopes


def _linear(views: Sequence[Corners], places: list[Floats], x: Floats, lenses: int) -> tuple[Floats, Floats]:
    """Seen minus expected (m,), and the slopes (m, p) of what is expected."""
    lens, shape = x[:lenses], x[lenses : lenses + SHAPE]
    matrix = np.array([[lens[FOCAL], 0.0, lens[CX]], [0.0, lens[FOCAL], lens[CY]], [0.0, 0.0, 1.0]])
    distortion = np.array([lens[K1], lens[K2] if lenses > K2 else 0.0, 0.0, 0.0, 0.0])
    rows = 2 * sum(len(view.pixels) for view in views)
    misfit, slopes = np.empty(rows), np.zeros((rows, len(x)))
    at = 0
    for i, (view, place) in enumerate(zip(views, places, strict=True)):
        first = lenses + SHAPE + 6 * i
        pose = x[first : first + 6]
        points, by_shape = _shaped(view.points_m, place, shape)
        expected, slope = cv2.projectPoints(points, pose[:3], pose[3:], matrix, distortion)
        here = slice(at, at + 2 * len(points))
        misfit[here] = (view.pixels - expected[:, 0]).ravel()
        slopes[here, first : first + 6] = slope[:, :6]
        for column, theirs in enumerate(_LENS_COLUMNS[:lenses]):
            slopes[here, column] = slope[:, list(theirs)].sum(axis=1)
        in_camera = np.asarray(cv2.Rodrigues(pose[:3])[0]) @ by_shape  # (n, 3, 4)
        slopes[here, lenses : lenses + SHAPE] = (slope[:, 3:6].reshape(-1, 2, 3) @ in_camera).reshape(-1, SHAPE)
        at = here.stop
    return misfit, slopes


def _normal_equations(
    misfit: Floats, slopes: Floats, x: Floats, lenses: int, noise_px: float
) -> tuple[Floats, Floats, float]:
    """Information, pull and cost, the prior of the board's shape among them."""
    shape = slice(lenses, lenses + SHAPE)
    normal = slopes.T @ slopes / noise_px**2
    pull = slopes.T @ misfit / noise_px**2
    normal[shape, shape] += np.diag(SHAPE_SD**-2)
    pull[shape] -= x[shape] / SHAPE_SD**2
    return normal, pull, _cost(misfit, x, lenses, noise_px)


def _cost(misfit: Floats, x: Floats, lenses: int, noise_px: float) -> float:
    return float(misfit @ misfit / noise_px**2 + np.sum((x[lenses : lenses + SHAPE] / SHAPE_SD) ** 2))
