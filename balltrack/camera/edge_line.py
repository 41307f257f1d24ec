"""Where in the picture an edge of plate or chalk truly runs: a straight line fitted, to sub-pixel, to crossings."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import project_parameters
from balltrack.camera.plate_model import ModelEdge
from balltrack.units import M_PER_IN, Floats

Luma32 = NDArray[np.float32]

STEP_PX = 0.5  # of the profiles across an edge
PAD_PX = 4.0  # by which profiles are longer than what is searched
SLOPE_SD_PX = 0.8  # Gaussian whose derivative finds the steps
SPACING_PX, MOST_SAMPLES, FEWEST_SAMPLES = 1.5, 90, 8  # of profiles along an edge
SHORTEST_PX = 6.0  # of an edge that is looked for
ENDS_SHARE = 0.04  # of an edge, left out at both ends: corners are rounded by the lens
LEAST_CONTRAST = 8.0  # codes of luma; a fainter edge is not told from the ground's own patches
LEAST_SHARE = 0.4  # of the profiles that must agree on a line
PEAKS_A_PROFILE = 4
ON_LINE_PX = 0.8
TRIALS = 120
# The white is looked for so far in, the ground between so far and so far out: beyond the lens's blur. Neighbouring
# profiles lend each other their levels.
BRIGHT_WITHIN_PX, DARK_WITHIN_PX, LIKE_NEIGHBOURS = 3.5, (1.75, 4.0), 7
CODE_TO_LIGHT = 2.2  # power by which codes of luma become light: about that of sRGB and BT.709 screens
# Neighbouring profiles share pixels, and what the ground does to them: so many count as one.
ALIKE_PROFILES = 6.0
FLOOR_PX = 0.12  # of a crossing's place, in common along a whole edge: blur and sharpening, not quite even
# A chalk line is 2 to 4 in broad (rule books), some are drawn broader. It is looked at inside, at its inner edge's
# far side, and outside.
IN_CHALK_M, PAST_CHALK_M, OUT_OF_CHALK_M = 1.25 * M_PER_IN, 8.5 * M_PER_IN, 4.0 * M_PER_IN


@dataclass(frozen=True, slots=True, eq=False)
class EdgeLine:
    """An edge as it was seen, against where a camera puts it.

    It lies ``offset_px + slope_px * (share - 0.5)`` farther outward, ``share`` running from 0 to 1 along the edge.
    """

    edge: ModelEdge
    points_field_m: Floats  # (n, 3) of the edge, where the picture shows it
    shares: Floats  # (n,) their places along the edge
    pixels: Floats  # (n, 2) where it was seen
    normals: Floats  # (n, 2) outward unit vectors in the picture
    offset_px: float
    slope_px: float
    covariance_px2: Floats  # (2, 2) of offset and slope
    seen_share: float  # of all profiles that lie in the picture
    contrast: float  # codes of luma
    darkness: float  # luma outside over luma inside

    def out_px(self, share: float) -> tuple[float, float]:
        """How far outward it lies at a place along the edge, and one standard deviation of that. [px]"""
        row = np.array([1.0, share - 0.5])
        return self.offset_px + self.slope_px * (share - 0.5), float(np.sqrt(row @ self.covariance_px2 @ row))


def find_edge(
    luma: Luma32, edge: ModelEdge, parameters: Floats, reach_px: float, least_darkness: float = 0.0
) -> EdgeLine | None:
    """Look for an edge no farther than ``reach_px`` from where a camera puts it; None where none is clear.

    Parameters
    ----------
    luma : (h, w) array
        Codes of luma.
    edge : ModelEdge
    parameters : (11,) array
        The camera.
    reach_px : float
        [px]
    least_darkness : float, optional
        Least luma outside over luma inside: what is darker than ground, in shadow or not, is something that stands
        before the edge.
    """
    placed = _place(luma, edge, parameters)
    if placed is None:
        return None
    shares, points, pixels, normals, asked = placed
    out, profiles = _profiles(luma, pixels, normals, reach_px + PAD_PX)
    which, peaks = _falls(out, profiles, reach_px)
    if len(np.unique(which)) < max(FEWEST_SAMPLES, LEAST_SHARE * len(shares)):
        return None
    line = _agreed_line(shares[which] - 0.5, peaks, which, reach_px)
    if line is None:
        return None
    off = np.abs(peaks - line[0] - line[1] * (shares[which] - 0.5))
    near = off < ON_LINE_PX
    which, peaks = _nearest_each(which[near], off[near], peaks[near])
    crossings, bright, dark = _half_way(out, profiles[which], peaks)
    contrast, darkness = bright - dark, dark / np.maximum(bright, 1.0)
    good = np.isfinite(crossings) & (darkness >= least_darkness)
    if good.any():
        good &= contrast > 0.35 * np.median(contrast[good])
    which, crossings = which[good], crossings[good]
    if len(which) < max(FEWEST_SAMPLES, LEAST_SHARE * asked):
        return None
    offset, slope, covariance, kept = _straight(shares[which] - 0.5, crossings)
    which, crossings = which[kept], crossings[kept]
    strength = float(np.median(contrast[good][kept]))
    if len(which) < max(FEWEST_SAMPLES, LEAST_SHARE * asked) or strength < LEAST_CONTRAST:
        return None
    if abs(offset) + abs(slope) / 2 > reach_px + ON_LINE_PX:
        return None
    seen = pixels[which] + crossings[:, None] * normals[which]
    found = EdgeLine(
        edge,
        points[which],
        shares[which],
        seen,
        normals[which],
        offset,
        slope,
        covariance,
        seen_share=len(which) / asked,
        contrast=strength,
        darkness=float(np.median(darkness[good][kept])),
    )
    return found if not edge.chalk or _is_stripe(luma, found, parameters) else None


def _place(luma: Luma32, edge: ModelEdge, parameters: Floats) -> tuple[Floats, Floats, Floats, Floats, int] | None:
    """Shares (n,), points (n, 3), pixels (n, 2), outward normals (n, 2) of profiles in the picture; their count."""
    ends = project_parameters(edge.ends_field_m, parameters)
    length_px = float(np.hypot(*(ends[1] - ends[0])))
    if not length_px >= SHORTEST_PX:
        return None
    count = int(np.clip(length_px / SPACING_PX, FEWEST_SAMPLES + 4, MOST_SAMPLES))
    shares = np.linspace(ENDS_SHARE, 1.0 - ENDS_SHARE, count)
    points = edge.ends_field_m[0] + shares[:, None] * (edge.ends_field_m[1] - edge.ends_field_m[0])
    pixels = project_parameters(points, parameters)
    ahead = project_parameters(points + 0.001 * (edge.ends_field_m[1] - edge.ends_field_m[0]), parameters) - pixels
    normals = np.column_stack([ahead[:, 1], -ahead[:, 0]]) / np.hypot(*ahead.T)[:, None]
    outward = project_parameters(points + 0.001 * edge.outward_field, parameters) - pixels
    normals = normals * np.sign(np.sum(normals * outward, axis=1))[:, None]
    height, width = luma.shape
    inside = (pixels > 3.0).all(axis=1) & (pixels < [width - 4.0, height - 4.0]).all(axis=1)
    if inside.sum() < FEWEST_SAMPLES or inside.sum() < 0.5 * count:
        return None
    return shares[inside], points[inside], pixels[inside], normals[inside], int(inside.sum())


def sample(luma: Luma32, pixels: Floats) -> Floats:
    """Luma between pixels, bilinear, (...,) for pixels (..., 2)."""
    table = pixels.reshape(-1, pixels.shape[-2], 2).astype(np.float32)  # cv2 takes no row of 2^15 pixels
    values = cv2.remap(luma, table[..., 0], table[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(values, float).reshape(pixels.shape[:-1])


def _profiles(luma: Luma32, pixels: Floats, normals: Floats, reach_px: float) -> tuple[Floats, Floats]:
    """How far outward, (m,), and the luma there, (n, m)."""
    out = np.arange(-np.ceil(reach_px / STEP_PX), np.ceil(reach_px / STEP_PX) + 1) * STEP_PX
    return out, sample(luma, pixels[:, None, :] + out[None, :, None] * normals[:, None, :])


def _falls(out: Floats, profiles: Floats, reach_px: float) -> tuple[NDArray[np.intp], Floats]:
    """Profile (k,) and place (k,) of every step from bright to dark, going outward. [px]"""
    from scipy.ndimage import gaussian_filter1d

    falls = -gaussian_filter1d(profiles, SLOPE_SD_PX / STEP_PX, axis=1, order=1) / STEP_PX
    middle = falls[:, 1:-1]
    peak = (middle > falls[:, :-2]) & (middle >= falls[:, 2:]) & (np.abs(out[1:-1]) <= reach_px)
    usual = np.percentile(np.max(np.where(peak, middle, 0.0), axis=1), 75)
    peak &= middle > max(0.25 * usual, 0.25 * LEAST_CONTRAST / SLOPE_SD_PX / 2.5)
    strength = np.where(peak, middle, 0.0)
    floor = np.sort(strength, axis=1)[:, -PEAKS_A_PROFILE][:, None] if strength.shape[1] >= PEAKS_A_PROFILE else 0.0
    rows, columns = np.nonzero(peak & (strength >= floor))
    before, here, after = (falls[rows, columns + shift] for shift in (0, 1, 2))
    return rows, out[columns + 1] + STEP_PX * 0.5 * (before - after) / (before - 2 * here + after - 1e-12)


def _agreed_line(along: Floats, peaks: Floats, which: NDArray[np.intp], reach_px: float) -> tuple[float, float] | None:
    """Offset and slope of the line that most profiles agree on, nearer ones before farther."""
    random = np.random.default_rng(0)
    first, second = random.integers(0, len(peaks), (2, TRIALS))
    apart = np.abs(along[first] - along[second]) > 0.2
    first, second = first[apart], second[apart]
    if not len(first):
        return None
    slope = (peaks[first] - peaks[second]) / (along[first] - along[second])
    offset = peaks[first] - slope * along[first]
    sane = np.abs(slope) <= 2.0 * reach_px
    if not sane.any():
        return None
    offset, slope = offset[sane], slope[sane]
    near = np.abs(peaks - offset[:, None] - slope[:, None] * along) < ON_LINE_PX
    starts = np.flatnonzero(np.concatenate([[True], which[1:] != which[:-1]]))
    counts = np.logical_or.reduceat(near, starts, axis=1).sum(axis=1)  # of profiles, not of their peaks
    score = counts * (1.0 - 0.3 * np.minimum(np.abs(offset) / reach_px, 1.0))
    best = int(np.argmax(score))
    return float(offset[best]), float(slope[best])


def _nearest_each(which: NDArray[np.intp], off: Floats, peaks: Floats) -> tuple[NDArray[np.intp], Floats]:
    """One peak a profile: the nearest to the line."""
    order = np.lexsort((off, which))
    which, peaks = which[order], peaks[order]
    first = np.concatenate([[True], which[1:] != which[:-1]])
    return which[first], peaks[first]


def _half_way(out: Floats, profiles: Floats, peaks: Floats) -> tuple[Floats, Floats, Floats]:
    """Where each profile (n, m) crosses half way from bright to dark near its peak, and both levels.

    The crossing half way in light is where the edge of a broad step lies, however much the lens blurred it; half way
    in code it lies farther out, as codes rise steeply from the dark.
    """
    from scipy.ndimage import median_filter, uniform_filter1d

    from_peak = out[None, :] - peaks[:, None]
    inside = (from_peak >= -BRIGHT_WITHIN_PX) & (from_peak <= 0.0)
    outside = (from_peak >= DARK_WITHIN_PX[0]) & (from_peak <= DARK_WITHIN_PX[1])
    smooth = uniform_filter1d(profiles, 3, axis=1)  # a pixel's noise must not make the white whiter
    bright = np.max(np.where(inside, smooth, -np.inf), axis=1)
    dark = np.sum(np.where(outside, profiles, 0.0), axis=1) / np.maximum(np.sum(outside, axis=1), 1)
    bright, dark = (median_filter(level, LIKE_NEIGHBOURS, mode="nearest") for level in (bright, dark))
    light = np.maximum(profiles, 0.0) ** CODE_TO_LIGHT
    half = 0.5 * (np.maximum(bright, 0.0) ** CODE_TO_LIGHT + np.maximum(dark, 0.0) ** CODE_TO_LIGHT)
    above = light >= half[:, None]
    falling = above[:, :-1] & ~above[:, 1:]
    rows = np.arange(len(peaks))
    distance = np.where(falling, np.abs(from_peak[:, :-1] + STEP_PX / 2), np.inf)
    column = np.argmin(distance, axis=1)
    here, there = light[rows, column], light[rows, column + 1]
    crossing = out[column] + STEP_PX * (here - half) / np.where(here > there, here - there, np.nan)
    return np.where(distance[rows, column] < 2.0, crossing, np.nan), bright, dark


def _straight(along: Floats, crossings: Floats) -> tuple[float, float, Floats, NDArray[np.bool_]]:
    """Offset, slope, their covariance, and which crossings lie on the line (Tukey's biweight)."""
    rows = np.column_stack([np.ones_like(along), along])
    weights = np.ones_like(along)
    line: Floats = np.zeros(2)
    spread = ON_LINE_PX
    for _ in range(8):
        line = np.asarray(np.linalg.lstsq(rows * weights[:, None] ** 0.5, crossings * weights**0.5, rcond=None)[0])
        off = crossings - rows @ line
        spread = max(1.4826 * float(np.median(np.abs(off))), 0.03)
        weights = np.clip(1.0 - (off / (4.685 * spread)) ** 2, 0.0, None) ** 2 + 1e-9
    information = (rows * weights[:, None]).T @ rows / (ALIKE_PROFILES * spread**2)
    floor = np.diag([FLOOR_PX**2, (2 * FLOOR_PX) ** 2])
    covariance: Floats = np.linalg.inv(information + 1e-9 * np.eye(2)).astype(float) + floor
    return float(line[0]), float(line[1]), covariance, np.asarray(weights > 0.05)


def _is_stripe(luma: Luma32, found: EdgeLine, parameters: Floats) -> bool:
    """Whether it is dark again on the far side: a line of chalk, not the rim of something broad."""
    points = found.points_field_m
    shift = found.pixels - project_parameters(points, parameters)
    outward = found.edge.outward_field
    chalk, past, outside = (
        sample(luma, project_parameters(points + by * outward, parameters) + shift)
        for by in (-IN_CHALK_M, -PAST_CHALK_M, OUT_OF_CHALK_M)
    )
    inner, outer = np.median(chalk - past), np.median(chalk - outside)
    return bool(min(inner, outer) > 0.3 * max(inner, outer) and min(inner, outer) > 0.5 * LEAST_CONTRAST)
