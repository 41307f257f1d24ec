"""A camera fitted to edges of plate and chalk, from a rough start, edge after edge as each comes within reach."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from balltrack.camera.edge_line import SHORTEST_PX, EdgeLine, Luma32, find_edge
from balltrack.camera.marks import DEFAULT_FOCAL_SD_SHARE, LensPrior
from balltrack.camera.model import PARAMETERS, focal_of_fov_px, project_parameters, rotation_matrices
from balltrack.camera.plate_blobs import PlateView
from balltrack.camera.plate_model import ModelEdge, plate_edges, plate_outline_m
from balltrack.camera.solve import CENTRE_SD_SHARE, PHONE_FOCAL_SD_LOG, PHONE_FOV_DEG
from balltrack.units import Floats

UNKNOWNS = 10  # the camera's parameters without the readout
STEPS = np.array([1e-5] * 3 + [1e-5] * 3 + [1e-2, 1e-5, 1e-2, 1e-2])  # central differences
ROLL_SD_RAD = np.radians(4.0)  # of a tripod set level by eye: a guess, no source
START_SD_SHARE = 0.06  # of the plate's breadth: how far off a start is
CROSSING_SD_PX = 0.5  # of one profile's crossing, with its neighbours alike, and what the field's drawing is off
SCALE_PX = 1.5  # crossings farther off than this count less and less
REACH_SDS, REACH_MORE_PX = 3.0, 2.0
REACH_M = 0.12  # an edge is not looked for farther off: half a box's distance from the plate and more is ambiguous
FARTHEST_SHARE = 0.04  # of the picture's longer side, nor farther than that
FEWEST_OF_PLATE = 2  # edges: those of one seen from near the ground, its front hidden by a tee's foot
FEWEST_SEEN, STILL_PX = 2.0, 0.02  # edges, by the shares of them that were seen; and when a camera rests
MOST_REACHES = 4.0  # an edge whose place is unsure by more than so many times that is left for later
ROUNDS, START_ROUNDS = 10, 2  # of looking; in the first few the start is still believed
DARKER_THAN_GROUND = 0.55  # of the usual luma outside over luma inside: a tee's foot, a shoe


_NOTHING_KNOWN = {False: 0.0, True: 0.0}


@dataclass(frozen=True, slots=True, eq=False)
class PlateFit:
    """A camera, and the edges that it was fitted to."""

    parameters: Floats  # (11,)
    covariance: Floats  # (10, 10) without the readout
    lines: tuple[EdgeLine, ...]  # seen from these very parameters
    missed: tuple[ModelEdge, ...]  # lie in the picture, but were not seen
    spread_px: float  # root mean square distance of the lines from where the camera puts them

    @property
    def support(self) -> float:
        """How much was seen of what should be, in edges."""
        return sum(line.seen_share for line in self.lines) - 0.4 * len(self.missed)

    @property
    def plate(self) -> tuple[EdgeLine, ...]:
        """The edges of the plate that were seen."""
        return tuple(line for line in self.lines if not line.edge.chalk)

    def seen(self, edges: Sequence[ModelEdge]) -> int:
        """How many of these edges were seen."""
        return len({edge.name for edge in edges} & {line.edge.name for line in self.lines})


@dataclass(frozen=True, slots=True, eq=False)
class Beliefs:
    """Means and standard deviations of the unknowns before anything is seen; infinite for the pose."""

    mean: Floats  # (10,)
    sd: Floats  # (10,)


def beliefs(lens: LensPrior | None, size_px: tuple[int, int]) -> Beliefs:
    """What the lens is believed to be: as stated, or any phone's."""
    lens = lens or LensPrior()
    longer = max(size_px)
    mean, sd = np.zeros(UNKNOWNS), np.full(UNKNOWNS, np.inf)
    mean[6] = focal_of_fov_px(np.radians(PHONE_FOV_DEG), longer)
    sd[6] = PHONE_FOCAL_SD_LOG * mean[6]
    if lens.focal_px is not None:
        mean[6] = lens.focal_px
        sd[6] = DEFAULT_FOCAL_SD_SHARE * lens.focal_px if lens.focal_sd_px is None else lens.focal_sd_px
    mean[7:] = lens.k1, *(lens.centre_px or ((size_px[0] - 1) / 2, (size_px[1] - 1) / 2))
    sd[7:] = CENTRE_SD_SHARE * longer if lens.centre_sd_px is None else lens.centre_sd_px
    sd[7] = lens.k1_sd
    return Beliefs(mean, np.maximum(sd, 1e-6))


def spot_covariance(view: PlateView, parameters: Floats, held: Beliefs) -> Floats:
    """(10, 10) how far off a start from a spot may be: the plate's corners by some share of its breadth."""
    corners_m = np.column_stack([plate_outline_m(), np.zeros(5)])
    return start_covariance(corners_m, START_SD_SHARE * view.box_px[2], parameters, held)


def start_covariance(places_m: Floats, sd_px: float, parameters: Floats, held: Beliefs) -> Floats:
    """(10, 10) how far off a camera may be that sees some places as far off as ``sd_px``."""
    slopes = _slopes(places_m, parameters).reshape(-1, UNKNOWNS)
    information = slopes.T @ slopes / sd_px**2 + _prior_information(parameters, held)[0]
    return np.asarray(np.linalg.inv(information), float)


def fit_plate(
    luma: Luma32, start: Floats, covariance: Floats, held: Beliefs, boxes: Sequence[ModelEdge]
) -> PlateFit | None:
    """Fit a camera to the plate's edges and to those of the boxes that come within reach.

    Parameters
    ----------
    luma : (h, w) array
        Codes of luma.
    start : (11,) array
        Camera parameters.
    covariance : (10, 10) array
        How far off they may be.
    held : Beliefs
    boxes : sequence of ModelEdge
        May be empty.

    Returns
    -------
    PlateFit or None
        None where fewer than three edges of the plate show.
    """
    parameters = start.copy()
    fit = None
    darkness = _NOTHING_KNOWN
    trusted = np.asarray(np.linalg.inv(covariance), float)
    for turn in range(ROUNDS):
        near = [edge for edge in boxes if turn > 0 or all("inner" in name for name in edge.ends)]
        lines, missed = _look(luma, plate_edges(), parameters, covariance, darkness)
        if len(lines) < FEWEST_OF_PLATE:
            return fit if turn > START_ROUNDS else None
        chalk, unseen = _look(luma, near, parameters, covariance, darkness)
        lines, missed = lines + chalk, missed + unseen
        if sum(not line.edge.chalk for line in lines) + 0.5 * sum(line.edge.chalk for line in lines) < 3:
            return fit if turn > START_ROUNDS else None
        darkness = _least_darkness(lines)
        moved, covariance = _adjust(lines, parameters, held, (start, trusted) if turn < START_ROUNDS else None)
        if not np.isfinite(moved).all() or moved[5] <= 0.0:
            return None
        spread = float(np.sqrt(np.mean([line.offset_px**2 + line.slope_px**2 / 12 for line in lines])))
        fit = PlateFit(parameters, covariance, tuple(lines), tuple(missed), spread)
        step_px = _moved_px(lines, parameters, moved)
        parameters = moved
        if turn == START_ROUNDS and sum(line.seen_share for line in lines) < FEWEST_SEEN:
            return None
        if turn > START_ROUNDS and step_px < STILL_PX:
            break
    return fit


def _look(
    luma: Luma32, edges: Sequence[ModelEdge], parameters: Floats, covariance: Floats, darkness: dict[bool, float]
) -> tuple[list[EdgeLine], list[ModelEdge]]:
    """The edges that are seen, and those that should have been."""
    lines, missed = [], []
    for edge in edges:
        ends = edge.ends_field_m
        pixels = project_parameters(ends, parameters)
        outward_px = project_parameters(ends + 0.01 * edge.outward_field, parameters) - pixels
        along = pixels[1] - pixels[0]
        if not np.isfinite(outward_px).all() or not SHORTEST_PX <= np.hypot(*along) <= 2 * max(luma.shape):
            continue
        normal = np.array([along[1], -along[0]]) / np.hypot(*along)
        slopes = np.einsum("ni,nij->nj", np.broadcast_to(normal, (2, 2)), _slopes(ends, parameters))
        sd_px = float(np.sqrt(np.max(np.einsum("ni,ij,nj->n", slopes, covariance, slopes))))
        limit_px = REACH_M / 0.01 * float(np.mean(np.abs(outward_px @ normal))) + REACH_MORE_PX
        limit_px = min(limit_px, FARTHEST_SHARE * max(luma.shape))
        reach_px = REACH_SDS * sd_px + REACH_MORE_PX
        if edge.chalk and reach_px > MOST_REACHES * limit_px:
            continue
        found = find_edge(luma, edge, parameters, min(reach_px, limit_px), darkness[edge.chalk])
        if found is not None:
            lines.append(found)
        elif _in_picture(pixels, luma):
            missed.append(edge)
    return lines, missed


def _least_darkness(lines: Sequence[EdgeLine]) -> dict[bool, float]:
    """For chalk and for the plate, which may have a black rim: darker than this is no ground, but before it."""
    seen = {chalk: [line.darkness for line in lines if line.edge.chalk == chalk] for chalk in (False, True)}
    return {chalk: DARKER_THAN_GROUND * float(np.median(each)) if each else 0.0 for chalk, each in seen.items()}


def _in_picture(pixels: Floats, luma: Luma32) -> bool:
    return bool(np.all(pixels > 0.0) and np.all(pixels < [luma.shape[1] - 1, luma.shape[0] - 1]))


def _adjust(
    lines: Sequence[EdgeLine], parameters: Floats, held: Beliefs, start: tuple[Floats, Floats] | None
) -> tuple[Floats, Floats]:
    """Gauss-Newton on all crossings, those far off weighted down (Cauchy), until it rests.

    ``start``, where it is still believed, is a camera and its information, which holds ``held`` already.
    """
    points = np.concatenate([line.points_field_m for line in lines])
    pixels = np.concatenate([line.pixels for line in lines])
    normals = np.concatenate([line.normals for line in lines])
    # An edge says as much as its fitted line does, however many profiles it has.
    alike = np.concatenate([np.full(len(line.shares), len(line.shares) / 8.0) for line in lines])
    parameters = parameters.copy()
    covariance = np.eye(UNKNOWNS)
    for _ in range(8):
        off = np.sum(normals * (pixels - project_parameters(points, parameters)), axis=1)
        rows = np.einsum("ni,nij->nj", normals, _slopes(points, parameters))
        weights = 1.0 / (1.0 + (off / SCALE_PX) ** 2) / (alike * CROSSING_SD_PX**2)
        if start is None:
            prior, pull = _prior_information(parameters, held)
        else:
            prior, pull = start[1], start[1] @ (start[0] - parameters)[:UNKNOWNS]
        covariance = np.linalg.inv((rows * weights[:, None]).T @ rows + prior)
        step = covariance @ (rows.T @ (weights * off) + pull)
        parameters[:UNKNOWNS] += step
        if not np.isfinite(project_parameters(points, parameters)).all():
            return np.full_like(parameters, np.nan), covariance
        if np.max(np.abs(rows @ step)) < 0.01:
            break
    return parameters, covariance


def _prior_information(parameters: Floats, held: Beliefs) -> tuple[Floats, Floats]:
    """(10, 10) information of what is believed, and (10,) its pull: the lens, and a phone that stands level."""
    information, pull = np.diag(1e-9 + 1.0 / held.sd**2), (held.mean - parameters[:UNKNOWNS]) / held.sd**2
    rolls = rotation_matrices(
        np.array([parameters[:3], *(parameters[:3] + np.diag([1e-5] * 3)), *(parameters[:3] - np.diag([1e-5] * 3))])
    )[:, 0, 2]  # sine of the roll: how far the camera's right hand points up
    row = np.zeros(UNKNOWNS)
    row[:3] = (rolls[1:4] - rolls[4:7]) / 2e-5
    information += np.outer(row, row) / ROLL_SD_RAD**2
    return information, pull - row * rolls[0] / ROLL_SD_RAD**2


def _slopes(points_field_m: Floats, parameters: Floats) -> Floats:
    """(n, 2, 10) change of pixels with the unknowns."""
    shifts = np.zeros((UNKNOWNS, len(PARAMETERS)))
    shifts[:, :UNKNOWNS] = np.diag(STEPS)
    high = project_parameters(points_field_m, parameters + shifts)
    low = project_parameters(points_field_m, parameters - shifts)
    return np.moveaxis((high - low) / (2.0 * STEPS[:, None, None]), 0, -1)


def _moved_px(lines: Sequence[EdgeLine], before: Floats, after: Floats) -> float:
    points = np.concatenate([line.edge.ends_field_m for line in lines])
    return float(np.max(np.abs(project_parameters(points, after) - project_parameters(points, before))))
