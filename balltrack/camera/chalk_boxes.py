"""Four lines of chalk that may be a batter's box lying on the ground, and the cameras that would see them so.

A plate is easily hidden by a tee's foot or a leg; the lines of a box are long, and enough of them shows.
"""

from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import PARAMETERS
from balltrack.camera.plate_model import ANY_BASE_PATH_M
from balltrack.camera.still import Bytes
from balltrack.field import named_points
from balltrack.units import Floats

SHORTEST_SHARE = 0.02  # of a line, of the picture's longer side
MOST_PIECES, MOST_LINES = 160, 44
PARALLEL_RAD, BROADEST_SHARE = np.radians(6.0), 0.025  # of a stripe's two edges: angle between, and distance
OVERLAP = 0.4  # of the shorter, beside each other
ON_ONE_PX, SAME_RAD, GAP = 3.0, np.radians(2.0), 0.6  # pieces of one line: aside, turned, apart by their length
COVERED, PAST = 0.3, 0.12  # of a box's side: as much is seen at least, and at most so much goes on past its corners
SMALLEST_SHARE = 1e-3  # of the picture, that a box covers
NOT_SQUARE = 0.3  # cosine of the angle between the sides, and log of the ratio of their scales: a lens roughly known
LOWEST_M, HIGHEST_M, MOST_ROLL = 0.2, 8.0, 0.25  # of a lens above ground; sine of a roll
MOST_VIEWS = 24
# What lines of chalk enclose, from above with the clock: each box, and both together where their ends line up.
RECTANGLES = (
    ("left_box_outer_back", "left_box_outer_front", "left_box_inner_front", "left_box_inner_back"),
    ("right_box_inner_back", "right_box_inner_front", "right_box_outer_front", "right_box_outer_back"),
    ("left_box_outer_back", "left_box_outer_front", "right_box_outer_front", "right_box_outer_back"),
)


@dataclass(frozen=True, slots=True, eq=False)
class BoxView:
    """A camera that sees a box where four lines are."""

    parameters: Floats  # (11,)
    corners_field_m: Floats  # (4, 3)


def box_views(luma: Bytes, ball_kind: str, focal_px: float, centre_px: Floats) -> list[BoxView]:
    """Cameras with this focal length that see a box of chalk, the likeliest first.

    Parameters
    ----------
    luma : (h, w) array
        Codes of luma.
    ball_kind : str
        Whose rules draw the boxes.
    focal_px : float
        Roughly. [px]
    centre_px : (2,) array
        Principal point. [px]
    """
    lines = chalk_edges(luma)
    quads = _quads(lines, luma.shape)
    if not len(quads):
        return []
    points = named_points(ball_kind, ANY_BASE_PATH_M)
    found: list[tuple[float, BoxView]] = []
    for names in RECTANGLES:
        corners = np.array([points[name] for name in names])
        for turn in range(4):
            found += _cameras(quads, np.roll(corners, turn, axis=0), focal_px, centre_px)
    found.sort(key=lambda each: each[0])
    return [view for _, view in found[:MOST_VIEWS]]


def chalk_edges(luma: Bytes) -> Floats:
    """(n, 2, 2) both edges of every bright stripe, first and last pixel, with the stripe on the right going along."""
    found: object = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD).detect(luma)[0]
    if found is None:
        return np.zeros((0, 2, 2))
    ends = np.asarray(found, float).reshape(-1, 2, 2)
    longer = max(luma.shape)
    ends = ends[np.hypot(*(ends[:, 1] - ends[:, 0]).T) > 0.5 * SHORTEST_SHARE * longer]
    ends = _bright_on_the_right(luma, ends)
    ends = ends[_is_stripe(ends, BROADEST_SHARE * longer)]
    ends = _joined(ends[np.argsort(-np.hypot(*(ends[:, 1] - ends[:, 0]).T))][:MOST_PIECES])
    lengths = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    order = np.argsort(-lengths)
    return np.asarray(ends[order[lengths[order] > SHORTEST_SHARE * longer]][:MOST_LINES], float)


def _bright_on_the_right(luma: Bytes, ends: Floats) -> Floats:
    """The same, turned about where the picture is brighter on the left."""
    along = ends[:, 1] - ends[:, 0]
    right = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]  # v runs down
    places = ends[:, None, 0] + np.linspace(0.1, 0.9, 9)[None, :, None] * along[:, None]
    sides = []
    for sign in (1.0, -1.0):
        pixels = (places + 1.5 * sign * right[:, None]).astype(np.float32)
        sides.append(cv2.remap(luma, pixels[..., 0], pixels[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
    wrong = np.median(sides[0].astype(float) - sides[1], axis=1) < 0
    return np.asarray(np.where(wrong[:, None, None], ends[:, ::-1], ends), float)


def _is_stripe(ends: Floats, broadest_px: float) -> NDArray[np.bool_]:
    """Whether an edge has one that runs the other way close by on its bright side."""
    along = ends[:, 1] - ends[:, 0]
    lengths = np.hypot(*along.T)
    ahead = along / lengths[:, None]
    right = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    offsets = ends[None, :] - ends[:, None, :1]  # (n, n, 2, 2) ends of the second from the start of the first
    aside = np.einsum("nmkj,nj->nmk", offsets, right)
    share = np.sort(np.einsum("nmkj,nj->nmk", offsets, ahead), axis=2)
    common = np.minimum(share[..., 1], lengths[:, None]) - np.maximum(share[..., 0], 0.0)
    near = (aside.mean(axis=2) > 1.0) & (aside.mean(axis=2) < broadest_px)
    against = ahead @ ahead.T < -np.cos(PARALLEL_RAD)
    beside = common > OVERLAP * np.minimum(lengths[:, None], lengths[None, :])
    return np.asarray(np.any(near & against & beside, axis=1), bool)


def _joined(ends: Floats) -> Floats:
    """Pieces of one line put together, where a leg or a post stands before it."""
    pieces = list(ends[np.argsort(-np.hypot(*(ends[:, 1] - ends[:, 0]).T))])
    joined: list[Floats] = []
    while pieces:
        line = pieces.pop(0)
        grown = True
        while grown:
            grown = False
            for i, other in enumerate(pieces):
                if _continues(line, other):
                    ahead = line[1] - line[0]
                    four = np.concatenate([line, other])
                    order = np.argsort(four @ ahead)
                    line = four[order[[0, -1]]]
                    del pieces[i]
                    grown = True
                    break
        joined.append(line)
    return np.array(joined).reshape(-1, 2, 2)


def _continues(line: Floats, other: Floats) -> bool:
    along, its = line[1] - line[0], other[1] - other[0]
    length, its_length = float(np.hypot(*along)), float(np.hypot(*its))
    ahead = along / length
    if ahead @ its < np.cos(3 * SAME_RAD) * its_length:
        return False
    offsets = other - line[0]
    aside = offsets @ np.array([-ahead[1], ahead[0]])
    share = np.sort(offsets @ ahead)
    gap = max(share[0] - length, -share[1])
    on_one = np.max(np.abs(aside)) < ON_ONE_PX + np.sin(SAME_RAD) * max(gap, 0.0)
    return bool(on_one and gap < GAP * max(length, its_length))


def _quads(lines: Floats, shape: tuple[int, ...]) -> Floats:
    """(m, 4, 2) corners, with the clock, of what four edges enclose with their stripes inside."""
    facing = [pair for pair in combinations(range(len(lines)), 2) if _face(lines[pair[0]], lines[pair[1]])]
    if len(facing) < 2:
        return np.zeros((0, 4, 2))
    first, second = np.triu_indices(len(facing), 1)
    pairs = np.array(facing)
    sides = np.stack([pairs[first, 0], pairs[second, 0], pairs[first, 1], pairs[second, 1]], axis=1)
    sides = np.concatenate([sides, sides[:, [0, 3, 2, 1]]])
    sides = sides[(np.diff(np.sort(sides, axis=1), axis=1) > 0).all(axis=1)]
    ends = lines[sides]  # (m, 4, 2, 2)
    corners = _meetings(np.roll(ends, 1, axis=1), ends)  # where each side begins
    along = np.roll(corners, -1, axis=1) - corners
    lengths = np.hypot(along[..., 0], along[..., 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        ahead = along / lengths[..., None]
        shares = np.einsum("mskj,msj->msk", ends - corners[:, :, None], ahead) / lengths[..., None]
        onward = np.all(shares[..., 1] > shares[..., 0], axis=1)
        covered = np.minimum(shares[..., 1], 1.0) - np.maximum(shares[..., 0], 0.0)
        within = np.all((shares[..., 0] > -PAST) & (shares[..., 1] < 1.0 + PAST), axis=1)
        turns = ahead[..., 0] * np.roll(ahead[..., 1], -1, axis=1) - ahead[..., 1] * np.roll(ahead[..., 0], -1, axis=1)
        area = 0.5 * np.abs(np.sum(corners[..., 0] * along[..., 1] - corners[..., 1] * along[..., 0], axis=1))
        good = onward & within & np.all(covered > COVERED, axis=1) & np.all(turns > 0.02, axis=1)
    return np.asarray(corners[good & (area > SMALLEST_SHARE * shape[0] * shape[1])], float)


def _face(line: Floats, other: Floats) -> bool:
    """Whether each lies on the bright side of the other and they run more or less against each other."""
    along, its = line[1] - line[0], other[1] - other[0]
    right, its_right = np.array([-along[1], along[0]]), np.array([-its[1], its[0]])
    there, back = other.mean(axis=0) - line[0], line.mean(axis=0) - other[0]
    return bool(along @ its < 0 and there @ right > 0 and back @ its_right > 0)


def _meetings(first: Floats, second: Floats) -> Floats:
    """(m, 4, 2) where straight lines meet, far off where they are parallel."""
    along, its = first[..., 1, :] - first[..., 0, :], second[..., 1, :] - second[..., 0, :]
    offset = second[..., 0, :] - first[..., 0, :]
    across = along[..., 0] * its[..., 1] - along[..., 1] * its[..., 0]
    across = np.where(np.abs(across) < 1e-9, 1e-9, across)
    share = (offset[..., 0] * its[..., 1] - offset[..., 1] * its[..., 0]) / across
    return np.asarray(first[..., 0, :] + share[..., None] * along, float)


def _cameras(
    quads: Floats, corners_m: Floats, focal_px: float, centre_px: Floats
) -> list[tuple[float, BoxView]]:
    """Cameras that see the corners of a box in those of each quad, with how badly they fit a square lens."""
    rays = (quads - centre_px) / focal_px
    found = []
    for ray in rays:
        matrix = np.asarray(cv2.getPerspectiveTransform(corners_m[:, :2].astype(np.float32), ray.astype(np.float32)))
        if matrix[2, 0] * corners_m[:, 0].mean() + matrix[2, 1] * corners_m[:, 1].mean() + matrix[2, 2] < 0:
            matrix = -matrix
        one, two, place = matrix.T
        sizes = np.linalg.norm(one), np.linalg.norm(two)
        misfit = float(np.hypot(np.log(sizes[0] / sizes[1]), one @ two / (sizes[0] * sizes[1])))
        if misfit > NOT_SQUARE:
            continue
        up = np.cross(one, two) / (sizes[0] * sizes[1])
        left, _, right = np.linalg.svd(np.column_stack([one / sizes[0], two / sizes[1], up]))
        turn = left @ right
        parameters = np.zeros(len(PARAMETERS))
        parameters[:3] = cv2.Rodrigues(turn)[0].ravel()
        parameters[3:6] = -turn.T @ place / np.sqrt(sizes[0] * sizes[1])
        parameters[6], parameters[8:10] = focal_px, centre_px
        if LOWEST_M < parameters[5] < HIGHEST_M and abs(turn[0, 2]) < MOST_ROLL and turn[1, 2] < 0:
            found.append((misfit, BoxView(parameters, corners_m)))
    return found
