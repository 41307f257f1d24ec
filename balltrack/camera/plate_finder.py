"""Home plate and the batter's boxes, found in a still picture without a person's help."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

import cv2
import numpy as np

from balltrack.camera.chalk_boxes import box_views
from balltrack.camera.corner import ProposedMark, corner_of
from balltrack.camera.edge_line import EdgeLine, Luma32, sample
from balltrack.camera.marks import FEWEST_MARKS, LensPrior, Mark
from balltrack.camera.model import project_parameters, rotation_matrices
from balltrack.camera.plate_blobs import NARROWEST_SHARE, PlateView, plate_views, without_wires
from balltrack.camera.plate_fit import Beliefs, PlateFit, beliefs, fit_plate, spot_covariance, start_covariance
from balltrack.camera.plate_model import ModelEdge, box_edges, plate_outline_m
from balltrack.camera.refine import LOOSEST_SD_SHARE, refine_mark
from balltrack.camera.solve import MARK_SD_SHARE, solve
from balltrack.camera.still import Bytes, Still
from balltrack.errors import CalibrationError
from balltrack.field import named_points
from balltrack.units import Floats

__all__ = ["Proposal", "ProposedMark", "propose_marks", "refine_mark"]

# Shares of the longer side: dark wires and posts up to so broad are taken out; and how many views are tried then.
WIRE_SHARES = ((0.0, 60), (0.006, 16))
CLEAR_SUPPORT = 9.0  # edges of 13: nothing but plate and boxes looks so, and no other view is tried
CHALK_SD_SHARE = 4.0 / 1920  # of the longer side: how far a box seen with a roughly known lens is off at its corners
ALONE_SHARE, ALONE_SPREAD_PX = 0.7, 0.35  # a plate without boxes must show all five edges, and so well
# With boxes, so many edges of the plate (the sides of one seen from near the ground are too short to be looked for),
# and so many in all, those of the plate counted twice: five and one of a box, four and three, down to two and seven.
FEWEST_PLATE_EDGES, ENOUGH_TOGETHER, LEAST_SUPPORT = 2, 11, 5.0
ALL_PLATE_EDGES, ALONE_SHORTEST_PX = 5, 10.0
LEAST_WHITER = 0.3  # of the step from ground to white, by which most of the plate must be brighter
TURNED_LOOSER = 25.0  # times the variance of a camera, when it looks from across
CLEARLY_BETTER = 0.8  # edges by which the plate must be better seen than the same turned about
NOT_FOUND = (
    "no home plate stands out in this picture; click its corners, or take a still in which plate and lines are bare"
)
LENS_SLACK = 0.03  # of the focal length: a stated lens may be wrong by so much, and is not believed more while looking


@dataclass(frozen=True, slots=True)
class Proposal:
    """What was found. Without marks, ``words`` say why not and what to do."""

    marks: tuple[ProposedMark, ...]
    words: str


def propose_marks(still: Still, ball_kind: str, lens: LensPrior | None = None) -> Proposal:
    """Find the plate's corners and the outside corners of the batter's boxes.

    Parameters
    ----------
    still : Still
    ball_kind : str
        One of ``BALL_KINDS``: whose rules draw the batter's boxes.
    lens : LensPrior, optional
        Without: any phone's.

    Returns
    -------
    Proposal
        Only marks of which the picture leaves no doubt; none where no plate stands out.
    """
    held = _slackened(beliefs(lens, still.size_px))
    boxes = (*box_edges(ball_kind, "left"), *box_edges(ball_kind, "right"))
    fit = _best_fit(still, held, boxes, ball_kind)
    if fit is None:
        return Proposal((), NOT_FOUND)
    marks = _agreed(_corners(fit, max(still.size_px)), still.size_px, ball_kind, lens)
    boxed = any("box" in mark.name for mark in marks)
    if len(marks) < (FEWEST_MARKS if boxed else ALL_PLATE_EDGES):
        return Proposal((), NOT_FOUND)
    return Proposal(marks, _words(marks))


def _slackened(held: Beliefs) -> Beliefs:
    sd = held.sd.copy()
    sd[6] = max(sd[6], LENS_SLACK * held.mean[6])
    return Beliefs(held.mean, sd)


def _best_fit(still: Still, held: Beliefs, boxes: Sequence[ModelEdge], ball_kind: str) -> PlateFit | None:
    """The camera for which most edges show, if enough do; wires before the lens are taken out only where none does."""
    for share, most in WIRE_SHARES:
        picture = without_wires(still.luma, share) if share else still.luma
        luma = picture.astype(np.float32)
        best: PlateFit | None = None
        starts = chain(_from_chalk(picture, ball_kind, held), _from_spots(picture, held, most))
        for start, covariance in starts:
            fit = fit_plate(luma, start, covariance, held, boxes)
            if fit is not None and _believed(fit, luma, boxes) and (best is None or fit.support > best.support):
                best = fit
                if best.support > CLEAR_SUPPORT:
                    break
        if best is not None:
            best = _right_way_round(luma, best, held, boxes)
            return _on_bare(best, still, held, boxes) if share and best is not None else best
    return None


def _from_chalk(picture: Bytes, ball_kind: str, held: Beliefs) -> Iterator[tuple[Floats, Floats]]:
    """Cameras to start from, and how far off each may be, by four lines that may be a box."""
    sd_px = CHALK_SD_SHARE * max(picture.shape)
    for view in box_views(picture, ball_kind, held.mean[6], held.mean[8:10]):
        yield view.parameters, start_covariance(view.corners_field_m, sd_px, view.parameters, held)


def _from_spots(picture: Bytes, held: Beliefs, most: int) -> Iterator[tuple[Floats, Floats]]:
    """The same by spots that may be a plate."""
    size_px = (picture.shape[1], picture.shape[0])
    views = _promising(picture.astype(np.float32), plate_views(picture, held.mean[6]), held, size_px)
    for view in views[:most]:
        start = view.parameters(held.mean[6], size_px)
        yield start, spot_covariance(view, start, held)


def _right_way_round(luma: Luma32, fit: PlateFit, held: Beliefs, boxes: Sequence[ModelEdge]) -> PlateFit | None:
    """The better of this view and the one from across the plate, which boxes alone hardly tell; None if unsure."""
    middle = np.array([*plate_outline_m().mean(axis=0), 0.0])
    about = np.diag([-1.0, -1.0, 1.0])
    turned = fit.parameters.copy()
    turned[:3] = cv2.Rodrigues(np.asarray(rotation_matrices(fit.parameters[:3]) @ about))[0].ravel()
    turned[3:6] = about @ (fit.parameters[3:6] - middle) + middle
    # As a start from a spot is not: this plate's place is known but for its shape.
    twin = fit_plate(luma, turned, fit.covariance * TURNED_LOOSER, held, boxes)
    if twin is None or not _believed(twin, luma, boxes) or fit.support > twin.support + CLEARLY_BETTER:
        return fit
    return twin if twin.support > fit.support + CLEARLY_BETTER else None


def _on_bare(fit: PlateFit, still: Still, held: Beliefs, boxes: Sequence[ModelEdge]) -> PlateFit:
    """The same, looked for again in the picture as it is; the first where there more shows without the wires."""
    luma = still.luma.astype(np.float32)
    bare = fit_plate(luma, fit.parameters, fit.covariance, held, boxes)
    return bare if bare is not None and _believed(bare, luma, boxes) and bare.support > fit.support - 1.0 else fit


def _promising(
    luma: Luma32, views: Sequence[PlateView], held: Beliefs, size_px: tuple[int, int]
) -> list[PlateView]:
    """Those views first round whose outline the picture is brighter inside than outside."""
    if not views:
        return []
    rings = [_plate_m(0.8), _plate_m(1.25)]
    cameras = np.array([view.parameters(held.mean[6], size_px) for view in views])
    inside, outside = (sample(luma, project_parameters(ring, cameras)) for ring in rings)
    steps = (inside - outside).reshape(len(views), 4, 5)
    # By the weaker edges: a stripe of chalk has two good ones, a square four.
    worth = np.mean(np.sort(np.median(steps, axis=1), axis=1)[:, :3], axis=1) * (1.0 - 3.0 * _misfits(views))
    return [views[i] for i in np.argsort(-worth) if worth[i] > 0.0]


def _misfits(views: Sequence[PlateView]) -> Floats:
    return np.array([view.misfit for view in views])


def _believed(fit: PlateFit, luma: Luma32, boxes: Sequence[ModelEdge]) -> bool:
    """Whether so much was seen that it can only be a plate."""
    plate = fit.plate
    broad_px = float(np.ptp(project_parameters(_plate_m(1.0), fit.parameters)[:, 0]))
    if broad_px < NARROWEST_SHARE * max(luma.shape) or not _is_white(luma, fit):
        return False
    seen = fit.seen(boxes)
    if len(plate) >= FEWEST_PLATE_EDGES and seen >= 1 and seen + 2 * len(plate) >= ENOUGH_TOGETHER:
        return bool(fit.support > LEAST_SUPPORT)
    contrasts = [line.contrast for line in plate]
    return (
        len(plate) == ALL_PLATE_EDGES
        and all(line.seen_share > ALONE_SHARE and _length_px(line, fit) > ALONE_SHORTEST_PX for line in plate)
        and min(contrasts) > 0.4 * max(contrasts)
        and fit.spread_px < ALONE_SPREAD_PX
    )


def _is_white(luma: Luma32, fit: PlateFit) -> bool:
    """Whether most of what the camera takes for the plate is brighter than the ground beside it, shadows or not."""
    inner, outer = (sample(luma, project_parameters(_plate_m(scale), fit.parameters)) for scale in (0.75, 1.3))
    steps = inner - outer
    return bool(np.mean(steps > LEAST_WHITER * np.percentile(steps, 75)) > 0.6 and np.percentile(steps, 75) > 0)


def _plate_m(scale: float) -> Floats:
    """(20, 3) points along the plate's outline, drawn larger or smaller about its middle. [m]"""
    outline = plate_outline_m()
    steps_m = np.roll(outline, -1, axis=0) - outline
    along = np.concatenate([outline + share * steps_m for share in (0.2, 0.4, 0.6, 0.8)])
    middle = outline.mean(axis=0)
    return np.column_stack([middle + scale * (along - middle), np.zeros(len(along))])


def _length_px(line: EdgeLine, fit: PlateFit) -> float:
    return float(np.hypot(*np.diff(project_parameters(line.edge.ends_field_m, fit.parameters), axis=0)[0]))


def _corners(fit: PlateFit, longer: int) -> tuple[ProposedMark, ...]:
    """Where two seen edges meet, for every corner that is known well enough."""
    names = {name: None for line in fit.lines for name in line.edge.ends}  # in order, each once
    marks = [corner_of(name, fit.lines, fit.parameters) for name in names]
    return tuple(mark for mark in marks if mark is not None and mark.sd_px < LOOSEST_SD_SHARE * longer)


def _agreed(
    marks: Sequence[ProposedMark], size_px: tuple[int, int], ball_kind: str, lens: LensPrior | None
) -> tuple[ProposedMark, ...]:
    """Those of the marks that one camera explains, by the same solution that a lesson's marks get; none without."""
    places = named_points(ball_kind, 20.0)
    try:
        solved = solve([Mark(mark.name, places[mark.name], mark.pixel_px) for mark in marks], size_px, lens)
    except CalibrationError:
        return ()
    misses = np.hypot(*solved.residuals_px.T)
    limit_px = 3.0 * MARK_SD_SHARE * max(size_px)
    return tuple(
        mark
        for mark, miss in zip(marks, misses, strict=True)
        if mark.name not in solved.rejected and miss < limit_px + 3.0 * mark.sd_px
    )


def _words(marks: Sequence[ProposedMark]) -> str:
    names = [mark.name for mark in marks]
    parts = [f"{sum(name.startswith('plate_') for name in names)} of 5 plate corners"]
    for side in ("left", "right"):
        parts.append(f"{sum(name.startswith(f'{side}_box') for name in names)} of 4 of the {side} box")
    return f"found {', '.join(parts)}: look whether the drawn lines lie on the chalk"
