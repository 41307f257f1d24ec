"""Home plate and the batter's boxes, found in a still picture without a person's help."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from balltrack.camera.edge_line import EdgeLine, Luma32, sample
from balltrack.camera.marks import FEWEST_MARKS, LensPrior, Mark
from balltrack.camera.model import Camera, project_parameters
from balltrack.camera.plate_blobs import PlateView, plate_views, without_wires
from balltrack.camera.plate_fit import Beliefs, PlateFit, beliefs, fit_plate, start_covariance
from balltrack.camera.plate_model import ModelEdge, box_edges, plate_outline_m
from balltrack.camera.solve import MARK_SD_SHARE, solve
from balltrack.camera.still import Still
from balltrack.errors import CalibrationError
from balltrack.field import named_points
from balltrack.units import Floats

WIRE_SHARES = (0.0, 0.003, 0.006)  # of the longer side: dark wires and posts up to so broad are taken out
VIEWS_TRIED = 60
CLEAR_SUPPORT = 9.0  # edges of 13: nothing but plate and boxes looks so, and no other view is tried
ALONE_SHARE, ALONE_SPREAD_PX = 0.7, 0.35  # a plate without boxes must show all five edges, and so well
FEWEST_BOX_EDGES = 3  # of eight, to believe the boxes
FARTHEST_REACH = 0.25  # of an edge, from where it was last seen to its corner
LOOSEST_SD_SHARE = 1.2 / 1920  # of the longer side: a corner known less well is left to a person
NOT_FOUND = (
    "no home plate stands out in this picture; click its corners, or take a still in which plate and lines are bare"
)
LENS_SLACK = 0.03  # of the focal length: a stated lens may be wrong by so much, and is not believed more while looking


@dataclass(frozen=True, slots=True)
class ProposedMark:
    """A named point of the field, and where in the picture it was found."""

    name: str
    pixel_px: tuple[float, float]
    sd_px: float  # one standard deviation along u or v


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
    fit = _best_fit(still, held, boxes)
    if fit is None:
        return Proposal((), NOT_FOUND)
    marks = _agreed(_corners(fit, max(still.size_px)), still.size_px, ball_kind, lens)
    if len(marks) < FEWEST_MARKS:
        return Proposal((), NOT_FOUND)
    return Proposal(marks, _words(marks))


def _slackened(held: Beliefs) -> Beliefs:
    sd = held.sd.copy()
    sd[6] = max(sd[6], LENS_SLACK * held.mean[6])
    return Beliefs(held.mean, sd)


def _best_fit(still: Still, held: Beliefs, boxes: Sequence[ModelEdge]) -> PlateFit | None:
    """The camera for which most edges show, if enough do; wires before the lens are taken out only where none does."""
    for share in WIRE_SHARES:
        picture = without_wires(still.luma, share) if share else still.luma
        luma = picture.astype(np.float32)
        best: PlateFit | None = None
        for view in _promising(luma, plate_views(picture), held, still.size_px):
            start = view.parameters(held.mean[6], still.size_px)
            fit = fit_plate(luma, start, start_covariance(view, start, held), held, boxes)
            if fit is not None and _believed(fit, boxes) and (best is None or fit.support > best.support):
                best = fit
                if best.support > CLEAR_SUPPORT:
                    break
        if best is not None:
            return best
    return None


def _promising(
    luma: Luma32, views: Sequence[PlateView], held: Beliefs, size_px: tuple[int, int]
) -> list[PlateView]:
    """Those views first round whose outline the picture is brighter inside than outside."""
    if not views:
        return []
    outline = plate_outline_m()
    middle = outline.mean(axis=0)
    steps_m = np.roll(outline, -1, axis=0) - outline
    along = np.concatenate([outline + share * steps_m for share in (0.2, 0.4, 0.6, 0.8)])
    rings = [np.column_stack([middle + scale * (along - middle), np.zeros(len(along))]) for scale in (0.8, 1.25)]
    cameras = np.array([view.parameters(held.mean[6], size_px) for view in views])
    inside, outside = (sample(luma, project_parameters(ring, cameras)) for ring in rings)
    steps = (inside - outside).reshape(len(views), 4, 5)
    # By the weaker edges: a stripe of chalk has two good ones, a square four.
    worth = np.mean(np.sort(np.median(steps, axis=1), axis=1)[:, :3], axis=1) * (1.0 - 3.0 * _misfits(views))
    return [views[i] for i in np.argsort(-worth)[:VIEWS_TRIED] if worth[i] > 0.0]


def _misfits(views: Sequence[PlateView]) -> Floats:
    return np.array([view.misfit for view in views])


def _believed(fit: PlateFit, boxes: Sequence[ModelEdge]) -> bool:
    """Whether so much was seen that it can only be a plate."""
    plate = [line for line in fit.lines if not line.edge.chalk]
    if fit.seen(boxes) >= FEWEST_BOX_EDGES and len(plate) >= 4:
        return True
    return (
        len(plate) == 5
        and all(line.seen_share > ALONE_SHARE for line in plate)
        and fit.spread_px < ALONE_SPREAD_PX
    )


def _corners(fit: PlateFit, longer: int) -> tuple[ProposedMark, ...]:
    """Where two seen edges meet, for every corner near which both were seen."""
    at_corner: dict[str, list[tuple[EdgeLine, float]]] = {}
    for line in fit.lines:
        for share, name in zip((0.0, 1.0), line.edge.ends, strict=True):
            if np.min(np.abs(line.shares - share)) < FARTHEST_REACH:
                at_corner.setdefault(name, []).append((line, share))
    marks = []
    for name, meeting in at_corner.items():
        if len(meeting) == 2:
            mark = _meeting(name, meeting, fit.parameters)
            if mark is not None and mark.sd_px < LOOSEST_SD_SHARE * longer:
                marks.append(mark)
    return tuple(marks)


def _meeting(name: str, meeting: Sequence[tuple[EdgeLine, float]], parameters: Floats) -> ProposedMark | None:
    """The meeting of two fitted lines, told from where the camera puts the corner, as lines bend with the lens."""
    (line, share), (other, other_share) = meeting
    corner_m = line.edge.ends_field_m[[int(share)]]
    normals = np.array([line.normals[-1 if share else 0], other.normals[-1 if other_share else 0]])
    if abs(np.linalg.det(normals)) < 0.05:
        return None
    outs = np.array([line.out_px(share), other.out_px(other_share)])
    inverse = np.linalg.inv(normals)
    pixel = project_parameters(corner_m, parameters)[0] + inverse @ outs[:, 0]
    covariance = inverse @ np.diag(outs[:, 1] ** 2) @ inverse.T
    return ProposedMark(name, (float(pixel[0]), float(pixel[1])), float(np.sqrt(np.trace(covariance) / 2)))


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


def refine_mark(
    still: Still, name: str, pixel_px: tuple[float, float], camera: Camera | None = None
) -> ProposedMark | None:
    """Move a person's click to the chalk's true corner.

    Parameters
    ----------
    still : Still
    name : str
        The named point that was clicked.
    pixel_px : (float, float)
        Where.
    camera : Camera, optional
        As solved from the marks so far: tells in which directions the edges run.

    Returns
    -------
    ProposedMark or None
        None where no clear corner is near.
    """
    return None
