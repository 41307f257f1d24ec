"""The light of a ball that explains a patch best, and what the patch says of its pose: the algebra, as compiled loops.

A picture has three channels: brightness in n cells, and two colours in n' samples.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from balltrack.compiled import compiled
from balltrack.track.shade import along
from balltrack.track.spectra import TERMS, Image
from balltrack.units import Floats

POSE = 7
UNMODELLED = 0.5  # of the ball's contrast
STRAY = 15.0  # noise beyond which a pixel shows another thing
QUIET_PIXELS = 8.0  # as many tell beforehand how large the noise is
MOST_ALIKE = 12.0  # pixels that err as one
COLOUR_OF_LIGHT = 0.1  # of the ball's light: how sun and sky differ in colour (judgement, no source)
INSIDE = 0.05  # share of a cell from which on it shows the ball
SITE = 6  # of a pose: by how much the colours are stored further right than thought
Places = NDArray[np.int64]


class Cells(NamedTuple):
    """The cells that matter: change, empty field and weight (one over the variance of the noise)."""

    luma: Floats  # (3, n)
    colours: Floats  # (2, 3, n')


class Terms(NamedTuple):
    """The terms of light as the cells would show them; the first is the cover."""

    luma: Floats  # (9, n)
    colours: Floats  # (9, n')


class Slopes(NamedTuple):
    """How the cells change with the pose while the light stays as it is."""

    luma: Floats  # (7, n)
    colours: Floats  # (2, 7, n')


class Grid(NamedTuple):
    """Where the cells that matter lie."""

    height: int  # [cells]
    width: int
    step: int  # cells from one colour sample to the next
    pitch: float  # pixels a side of a cell
    luma: Places  # (n, 2) row and column
    colours: Places  # (n', 2)


class Light(NamedTuple):
    """The light of the ball that explains all channels best at one pose."""

    light: Floats  # (3, 9)
    gram: Floats  # (27, 27)
    held: Floats  # (27, 27) the same, with what is likely of shade
    pulled: Floats  # (9,) which way the picture alone would have the light of brightness


class Held(NamedTuple):
    """What the light and the pose are held to."""

    shade: Floats  # (8,) the likely shade, x to the right, and
    shade_precision: Floats  # (8, 8)
    pose: Floats  # (7,) the likely pose, and
    pose_precision: Floats  # (7,)


class Errors(NamedTuple):
    """What is left unexplained, and by how much each cell is believed."""

    luma: Floats  # (n,)
    colours: Floats  # (2, n')
    luma_trust: Floats  # (n,) weights, less for cells that show another thing, over the variance found
    colours_trust: Floats  # (2, n')
    share: float  # of the change where the ball is that it explains
    strength: float  # of the ball's change over the noise


@compiled
def explain(
    luma: Image, colours: Image, cells: Cells, grid: Grid, held: Held, turn: float, noise: Floats
) -> tuple[Terms, Light]:
    """The terms of light as pictures of them (9, h, w), (9, h', w') show them, and the light that explains best.

    ``turn``: of the terms' x. [rad] ``noise``: (3,) by how much the variance of each channel exceeds the stated.
    """
    terms = Terms(cells_of(luma, grid.luma), cells_of(colours, grid.colours))
    likely, precision = along(held.shade, held.shade_precision, turn)
    return terms, light_of(terms, cells, noise, likely, precision)


@compiled
def improve(
    luma: Image, colours: Image, terms: Terms, cells: Cells, grid: Grid, lit: Light, errors: Errors, noise: Floats
) -> tuple[Slopes, Floats, Floats, Floats]:
    """What pictures of slopes, (6 x 2, h, w) and (6 x 3, h', w'), tell: slopes, information, pull and noise."""
    slopes = slopes_of(cells_of(luma, grid.luma), cells_of(colours, grid.colours), cells, grid.pitch)
    information, pull = told_of(terms, slopes, cells, lit, errors, noise)
    return slopes, information, pull, noise_of(terms, cells, lit, errors, grid)


@compiled
def stepped(at: Floats, held: Held, information: Floats, pull: Floats) -> tuple[Floats, Floats]:
    """Step (7,) from a pose to the likeliest one, and its covariance (7, 7)."""
    covariance = np.linalg.inv(information + np.diag(held.pose_precision)).astype(np.float64)
    return covariance @ (pull + held.pose_precision * (held.pose - at)), covariance


@compiled
def cells_of(pictures: Image, places: Places) -> Floats:
    """(k, n) values at places (n, 2) in pictures (k, h, w)."""
    out = np.empty((pictures.shape[0], len(places)))
    for k in range(pictures.shape[0]):
        for n in range(len(places)):
            out[k, n] = pictures[k, places[n, 0], places[n, 1]]
    return out


@compiled
def light_of(
    terms: Terms, cells: Cells, noise: Floats, likely: Floats, precision: Floats
) -> Light:
    """The light that explains best, where shade (8,) of a given precision (8, 8) is likely."""
    gram, right = np.zeros((3 * TERMS, 3 * TERMS)), np.zeros(3 * TERMS)
    mean = np.zeros(3)
    for c in range(3):
        show, of = (terms.colours, cells.colours[c - 1]) if c else (terms.luma, cells.luma)
        weight = of[2] / noise[c]
        target = of[0] + show[0] * of[1]
        for k in range(TERMS):
            weighted = show[k] * weight
            right[c * TERMS + k] = _dot(weighted, target)
            for m in range(k + 1):
                gram[c * TERMS + k, c * TERMS + m] = _dot(weighted, show[m])
                gram[c * TERMS + m, c * TERMS + k] = gram[c * TERMS + k, c * TERMS + m]
        mean[c] = right[c * TERMS] / max(gram[c * TERMS, c * TERMS], 1e-9)
    # Light shades all colours alike, but for sun and sky being of different colours.
    alike = np.empty((3, 3))
    for c in range(3):
        for d in range(3):
            alike[c, d] = mean[c] * mean[d]
        alike[c, c] += (COLOUR_OF_LIGHT * mean[0]) ** 2 + 1.0
    apart = np.linalg.inv(alike)
    pull, level = precision @ likely, apart @ mean
    held = gram.copy()
    for c in range(3):
        for k in range(TERMS - 1):
            right[c * TERMS + 1 + k] += level[c] * pull[k]
        for d in range(3):
            for k in range(TERMS - 1):
                for m in range(TERMS - 1):
                    held[c * TERMS + 1 + k, d * TERMS + 1 + m] += apart[c, d] * precision[k, m]
    for k in range(3 * TERMS):
        held[k, k] += 1e-9
    light = np.linalg.solve(held, right).astype(np.float64)
    pulled = ((held - gram) @ light)[:TERMS]
    for k in range(TERMS - 1):
        pulled[1 + k] -= level[0] * pull[k]
    return Light(light.reshape(3, TERMS), gram, held, pulled)


@compiled
def errors_of(terms: Terms, cells: Cells, light: Floats) -> tuple[Floats, Floats]:
    """(n,) of brightness and (2, n') of colours: what light (3, 9) leaves unexplained."""
    colours = np.empty((2, terms.colours.shape[1]))
    for c in range(2):
        colours[c] = _left(terms.colours, cells.colours[c], light[c + 1])
    return _left(terms.luma, cells.luma, light[0]), colours


@compiled
def misfit_of(cells: Cells, errors: tuple[Floats, Floats]) -> float:
    """What is left unexplained, in squares of the noise; a stray cell counts no more than another stray one."""
    total = 0.0
    for c in range(3):
        of, error = (cells.colours[c - 1], errors[1][c - 1]) if c else (cells.luma, errors[0])
        for n in range(len(error)):
            total += min(error[n] * error[n] * of[2, n], STRAY * STRAY)
    return total


@compiled
def judge(terms: Terms, cells: Cells, light: Floats, noise: Floats, area: float) -> Errors:
    """What light (3, 9) leaves unexplained, and how far each cell is believed. ``area``: cells of a colour sample."""
    luma_error, colours_error = errors_of(terms, cells, light)
    left, total, strength = 0.0, 0.0, 0.0
    for c in range(3):
        show, of = (terms.colours, cells.colours[c - 1]) if c else (terms.luma, cells.luma)
        error = colours_error[c - 1] if c else luma_error
        stands_out, covered = 0.0, 0.0
        for n in range(len(error)):
            if show[0, n] > INSIDE:
                weight = of[2, n] * (area if c else 1.0)
                left += error[n] * error[n] * weight
                total += of[0, n] * of[0, n] * weight
            model = of[0, n] - error[n]
            stands_out += show[0, n] * model * model * of[2, n]
            covered += show[0, n]
        strength += stands_out / max(covered, 1e-6)
    strength = np.sqrt(max(strength, 0.0))
    colours_trust = np.empty_like(colours_error)
    for c in range(2):
        colours_trust[c] = _trust(cells.colours[c, 2], colours_error[c], strength, noise[c + 1])
    luma_trust = _trust(cells.luma[2], luma_error, strength, noise[0])
    return Errors(luma_error, colours_error, luma_trust, colours_trust, 1.0 - left / max(total, 1e-9), strength)


@compiled
def slopes_of(luma: Floats, colours: Floats, cells: Cells, pitch: float) -> Slopes:
    """Slopes with the pose [per px], of those of brightness and cover (6 x 2, n), of colours and cover (6 x 3, n')."""
    slopes, coloured = np.zeros((POSE, luma.shape[1])), np.zeros((2, POSE, colours.shape[1]))
    for p in range(POSE - 1):
        scale = 1.0 / pitch if p < 2 else 1.0
        slopes[p] = (luma[2 * p] - luma[2 * p + 1] * cells.luma[1]) * scale
        for c in range(2):
            coloured[c, p] = (colours[3 * p + c] - colours[3 * p + 2] * cells.colours[c, 1]) * scale
    for c in range(2):
        coloured[c, SITE] = -coloured[c, 0]
    return Slopes(slopes, coloured)


@compiled
def told_of(
    terms: Terms, slopes: Slopes, cells: Cells, lit: Light, errors: Errors, noise: Floats
) -> tuple[Floats, Floats]:
    """Information (7, 7) on the pose, and which way it pulls (7,), with the light following the pose.

    The pull is that of the light as it is, for its change costs nothing where it is best (envelope theorem). What a
    change of light does as well tells nothing of the pose: else a shade that follows the centre would steal its
    information. ``noise``: (3,) that of `light_of`.
    """
    cross = np.empty((3 * TERMS, POSE))
    for c in range(3):
        show, slope = (terms.colours, slopes.colours[c - 1]) if c else (terms.luma, slopes.luma)
        weight = (cells.colours[c - 1, 2] if c else cells.luma[2]) / noise[c]
        for k in range(TERMS):
            weighted = show[k] * weight
            for p in range(POSE):
                cross[c * TERMS + k, p] = _dot(weighted, slope[p])
    follows = np.linalg.solve(lit.held, cross)
    information = np.ascontiguousarray(follows.T) @ ((lit.held - lit.gram) @ follows)
    pull = np.zeros(POSE)
    for c in range(3):
        show, slope = (terms.colours, slopes.colours[c - 1]) if c else (terms.luma, slopes.luma)
        trust, error = (errors.colours_trust[c - 1], errors.colours[c - 1]) if c else (errors.luma_trust, errors.luma)
        free = slope.copy()
        for p in range(POSE):
            for k in range(TERMS):
                free[p] -= follows[c * TERMS + k, p] * show[k]
            pull[p] += _dot(slope[p] * trust, error)
        for p in range(POSE):
            weighted = free[p] * trust
            for q in range(p + 1):
                both = _dot(weighted, free[q])
                information[p, q] += both
                if q < p:
                    information[q, p] += both
    return information, pull


@compiled
def noise_of(terms: Terms, cells: Cells, lit: Light, errors: Errors, grid: Grid) -> Floats:
    """(3,) by how much the errors' variance exceeds the noise's, as if each cell erred alone."""
    freedom = np.diag(np.linalg.solve(lit.held, lit.gram))
    out = np.empty(3)
    for c in range(3):
        show, of = (terms.colours, cells.colours[c - 1]) if c else (terms.luma, cells.luma)
        error = errors.colours[c - 1] if c else errors.luma
        where, step = (grid.colours, grid.step) if c else (grid.luma, 1)
        picture = np.zeros((grid.height // step, grid.width // step))
        total, inside = 0.0, 0
        for n in range(len(error)):
            if show[0, n] > INSIDE:
                off = error[n] * np.sqrt(of[2, n])
                picture[where[n, 0], where[n, 1]] = off
                total += off * off
                inside += 1
        free = freedom[c * TERMS : (c + 1) * TERMS].sum()
        variance = (QUIET_PIXELS + total) / (QUIET_PIXELS + max(inside - free, 1.0))
        out[c] = variance * _alike(picture, total)
    return out


@compiled
def glimpsed(terms: Terms, slopes: Slopes, errors: Errors, precision: Floats) -> Floats:
    """(9, 9) what brightness tells of the light, less what a change of pose (7,) would show as well."""
    pose = np.diag(precision)
    for c in range(3):
        slope, trust = (slopes.colours[c - 1], errors.colours_trust[c - 1]) if c else (slopes.luma, errors.luma_trust)
        for p in range(POSE):
            weighted = slope[p] * trust
            for q in range(POSE):
                pose[p, q] += _dot(weighted, slope[q])
    told, cross = np.empty((TERMS, TERMS)), np.empty((TERMS, POSE))
    for k in range(TERMS):
        weighted = terms.luma[k] * errors.luma_trust
        for m in range(TERMS):
            told[k, m] = _dot(weighted, terms.luma[m])
        for p in range(POSE):
            cross[k, p] = _dot(weighted, slopes.luma[p])
    return told - cross @ np.linalg.solve(pose, np.ascontiguousarray(cross.T))


@compiled
def _dot(a: Floats, b: Floats) -> float:
    total = 0.0
    for n in range(len(a)):
        total += float(a[n] * b[n])
    return total


@compiled
def _left(terms: Floats, cells: Floats, light: Floats) -> Floats:
    """(n,) what one channel's light (9,) leaves unexplained."""
    out = cells[0] + terms[0] * cells[1]
    for k in range(TERMS):
        for n in range(len(out)):
            out[n] -= light[k] * terms[k, n]
    return np.asarray(out)


@compiled
def _trust(weight: Floats, error: Floats, strength: float, noise: float) -> Floats:
    """(n,) weights of a channel's cells, less for those that show another thing."""
    size = error * np.sqrt(weight)
    # Where the ball stands out strongly, its seams and edges miss by more than noise without being another thing.
    middle = np.partition(np.abs(size), len(size) // 2)[len(size) // 2]
    limit = 4.0 * max(1.0, 1.4826 * middle) + UNMODELLED * strength
    return np.asarray(weight / (1.0 + (size / limit) ** 2) / noise)


@compiled
def _alike(picture: Floats, total: float) -> float:
    """How many cells err as one, from how alike neighbours' errors are."""
    down, right = 0.0, 0.0
    height, width = picture.shape
    for i in range(height):
        for j in range(width):
            if i + 1 < height:
                down += picture[i, j] * picture[i + 1, j]
            if j + 1 < width:
                right += picture[i, j] * picture[i, j + 1]
    alike = 1.0
    for likeness in (down, right):
        share = min(max(likeness / (total + 1e-9), 0.0), 0.9)
        alike *= (1 + share) / (1 - share)
    return min(alike, MOST_ALIKE)
