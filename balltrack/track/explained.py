"""What a patch, brightness and both colours, says of a ball's light and pose: sums over cells, compiled.

Of each channel ``show`` (9, n) are the terms of light as its n cells would show them, the first being the cover;
``cells`` (3, n) hold change, empty field and weight, one over the variance of the noise; ``slope`` (7, n) is how the
cells change with the pose while the light stays as it is. Loops stand plainly, and arrays are contiguous: so they
compile soon.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from balltrack.compiled import compiled
from balltrack.units import Floats

TERMS, POSE = 9, 7  # of light: see `shade.shade_terms`; of a pose: see `match`
CHANNELS = 3
INSIDE = 0.05  # share of a cell from which on it shows the ball
STRAY = 15.0  # noise beyond which a pixel shows another thing
COLOUR_OF_LIGHT = 0.1  # of the ball's light: how sun and sky differ in colour (judgement, no source)
UNMODELLED = 0.5  # of the ball's contrast
QUIET_PIXELS = 8.0  # as many tell beforehand how large the noise is
MOST_ALIKE = 12.0  # pixels that err as one
Image = NDArray[np.float32]
Places = NDArray[np.int64]
Each = tuple[Floats, Floats, Floats]  # of brightness, of blue and of red


class Channels(NamedTuple):
    """The cells that matter of each channel."""

    cells: Each  # (3, n)
    places: tuple[Places, Places, Places]  # (n, 2) row and column
    grid: Places  # (3, 2) rows and columns that there are
    area: Floats  # (3,) of a channel's cell in cells of brightness


class Lit(NamedTuple):
    """The light of the ball that explains all channels best at one pose."""

    shows: Each  # (9, n)
    gram: Floats  # (3, 9, 9) normal equations
    light: Floats  # (3, 9)
    spread: Floats  # (27, 27) its covariance
    pulled: Floats  # (9,) which way the picture alone would have the light of brightness


class Told(NamedTuple):
    """What all cells tell at one pose."""

    information: Floats  # (7, 7) of the pose, with the light following it
    pull: Floats  # (7,)
    noise: Floats  # (3,) by how much the errors' variance exceeds the noise's, as if each cell erred alone
    trusts: Each  # (n,) weights, less for cells that show another thing, over the variance found
    share: float  # of the change where the ball is that it explains
    strength: float  # of the ball's change over the noise


@compiled
def cells_of(pictures: Image, places: Places) -> Floats:
    """(k, n) values at places (n, 2), row and column, in pictures (h, w, k)."""
    out = np.empty((pictures.shape[2], len(places)))
    for n in range(len(places)):
        here = pictures[places[n, 0], places[n, 1]]
        for k in range(pictures.shape[2]):
            out[k, n] = here[k]
    return out


@compiled
def near_places(size: tuple[int, int], step: int, sweep: Floats, reach: float) -> Places:
    """(n, 2) rows and columns, every ``step`` cells of a grid, of what lies within a reach [cells] of a streak.

    ``sweep`` (6,): of `sweep.Sweep`.
    """
    cos, sin, count = np.cos(sweep[4]), np.sin(sweep[4]), 0
    out = np.empty((size[0] * size[1], 2), np.int64)
    for i in range(0, size[0], step):
        for j in range(0, size[1], step):
            du, dv = j - sweep[0], i - sweep[1]
            past = max(abs(du * cos + dv * sin) - sweep[3] / 2, 0.0)
            if np.hypot(past, dv * cos - du * sin) < reach:
                out[count, 0], out[count, 1] = i // step, j // step
                count += 1
    return out[:count].copy()


@compiled
def weighed_cells(change: Image, field: Image, noise: Image, places: Places) -> Floats:
    """(3, n) change, empty field and weight at places (n, 2); ``noise``: its standard deviation."""
    out = np.empty((3, len(places)))
    for n in range(len(places)):
        i, j = places[n, 0], places[n, 1]
        out[0, n], out[1, n] = change[i, j], field[i, j]
        out[2, n] = 1.0 / (np.float64(noise[i, j]) * noise[i, j])
    return out


@compiled
def best_light(shows: Each, channels: Channels, noise: Floats, likely: Floats, precision: Floats) -> Lit:
    """The light that explains all channels best.

    ``noise`` (3,): excess of the variance. ``likely`` (8,), ``precision`` (8, 8): of shade, x along the motion. Light
    shades all colours alike, but for sun and sky being of different colours.
    """
    gram, right = np.empty((CHANNELS, TERMS, TERMS)), np.empty((CHANNELS, TERMS))
    for c in range(CHANNELS):
        _normal(shows[c], channels.cells[c], noise[c], gram[c], right[c])
    mean, alike = np.empty(CHANNELS), np.empty((CHANNELS, CHANNELS))
    for c in range(CHANNELS):
        mean[c] = right[c, 0] / max(gram[c, 0, 0], 1e-9)
    for c in range(CHANNELS):
        for d in range(CHANNELS):
            alike[c, d] = mean[c] * mean[d]
        alike[c, c] += (COLOUR_OF_LIGHT * mean[0]) ** 2 + 1.0
    apart = _inverse(alike)
    held, pull = 1e-9 * np.eye(CHANNELS * TERMS), right.copy()
    for c in range(CHANNELS):
        colour = 0.0
        for d in range(CHANNELS):
            colour += apart[c, d] * mean[d]
            for k in range(1, TERMS):
                for m in range(1, TERMS):
                    held[c * TERMS + k, d * TERMS + m] = apart[c, d] * precision[k - 1, m - 1]
        for k in range(1, TERMS):
            for m in range(1, TERMS):
                pull[c, k] += colour * precision[k - 1, m - 1] * likely[m - 1]
        for k in range(TERMS):
            for m in range(TERMS):
                held[c * TERMS + k, c * TERMS + m] += gram[c, k, m]
    spread, light = _inverse(held), np.zeros((CHANNELS, TERMS))
    for c in range(CHANNELS):
        for k in range(TERMS):
            for d in range(CHANNELS):
                for m in range(TERMS):
                    light[c, k] += spread[c * TERMS + k, d * TERMS + m] * pull[d, m]
    pulled = right[0].copy()
    for k in range(TERMS):
        for m in range(TERMS):
            pulled[k] -= gram[0, k, m] * light[0, m]
    return Lit(shows, gram, light, spread, pulled)


@compiled
def _normal(show: Floats, cells: Floats, noise: float, gram: Floats, right: Floats) -> None:
    """Write the normal equations of a channel's light, (9, 9) and (9,)."""
    for k in range(TERMS):
        total = 0.0
        for n in range(show.shape[1]):
            total += show[k, n] * cells[2, n] * (cells[0, n] + show[0, n] * cells[1, n])
        right[k] = total / noise
        for m in range(k + 1):
            both = 0.0
            for n in range(show.shape[1]):
                both += show[k, n] * cells[2, n] * show[m, n]
            gram[k, m] = gram[m, k] = both / noise


@compiled
def _inverse(matrix: Floats) -> Floats:
    """The inverse of a covariance or of an information (n, n), by Cholesky's factors."""
    size = len(matrix)
    root, back = np.zeros((size, size)), np.zeros((size, size))  # L, and its inverse by columns
    for i in range(size):
        for j in range(i + 1):
            total = matrix[i, j]
            for k in range(j):
                total -= root[i, k] * root[j, k]
            root[i, j] = np.sqrt(max(total, 1e-18)) if i == j else total / root[j, j]
    for j in range(size):
        back[j, j] = 1.0 / root[j, j]
        for i in range(j + 1, size):
            total = 0.0
            for k in range(j, i):
                total -= root[i, k] * back[j, k]
            back[j, i] = total / root[i, i]
    out = np.empty((size, size))
    for i in range(size):
        for j in range(i + 1):
            total = 0.0
            for k in range(i, size):
                total += back[i, k] * back[j, k]
            out[i, j] = out[j, i] = total
    return out


@compiled
def left_over(lit: Lit, channels: Channels) -> float:
    """All squares over the noise that the light leaves, a stray cell counting no more than another stray one."""
    total = 0.0
    for c in range(CHANNELS):
        cells = channels.cells[c]
        error, size = np.empty(cells.shape[1]), np.empty(cells.shape[1])
        _miss(lit.shows[c], cells, lit.light[c], error, size)
        for n in range(len(size)):
            total += min(size[n] * size[n], STRAY * STRAY)
    return total


@compiled
def _miss(show: Floats, cells: Floats, light: Floats, error: Floats, size: Floats) -> tuple[float, float, float]:
    """Write what light (9,) leaves unexplained (n,), and that over the noise.

    Returns squares over the noise where the ball is, of what is left and of the change, and the mean square of the
    ball's own change over the noise.
    """
    left, total, stands_out, covered = 0.0, 0.0, 0.0, 0.0
    for n in range(len(error)):
        off = cells[0, n] + show[0, n] * cells[1, n]
        for k in range(TERMS):
            off -= light[k] * show[k, n]
        square = off * off * cells[2, n]
        error[n], size[n] = off, np.sqrt(square)
        if show[0, n] > INSIDE:
            left += square
            total += cells[0, n] * cells[0, n] * cells[2, n]
        stands_out += show[0, n] * (cells[0, n] - off) * (cells[0, n] - off) * cells[2, n]
        covered += show[0, n]
    # Beside a ball that lies outside all cells its picture rings a little, below nothing too.
    return left, total, max(stands_out, 0.0) / max(covered, 1e-6)


@compiled
def slopes_at(pictures: Image, places: Places, channel: int, field: Floats, pitch: float) -> Floats:
    """Slopes with the pose (7, n) [per px] at places (n, 2) in pictures (h, w, 6 x k) of k - 1 channels and the cover.

    ``field`` (n,): the empty field. Several channels are colours.
    """
    step = pictures.shape[2] // (POSE - 1)
    slope = np.empty((POSE, len(places)))
    for n in range(len(places)):
        here = pictures[places[n, 0], places[n, 1]]
        for p in range(POSE - 1):
            slope[p, n] = here[step * p + channel] - here[step * p + step - 1] * field[n]
        slope[0, n] /= pitch
        slope[1, n] /= pitch
        # Colours stored further right look as a ball further left does.
        slope[POSE - 1, n] = -slope[0, n] if step > 2 else 0.0
    return slope


@compiled
def tell(lit: Lit, channels: Channels, slopes: Each, noise: Floats, believed: Floats) -> Told:
    """What the cells tell of the pose, and how large the noise is.

    ``noise``, ``believed`` (3,): excess of the variance, and what of it is held to when the light is weighed. The pull
    is that of the light as it is, for its change costs nothing where it is best (envelope theorem).
    """
    cells, shows = channels.cells, lit.shows
    errors = (np.empty(cells[0].shape[1]), np.empty(cells[1].shape[1]), np.empty(cells[2].shape[1]))
    sizes = (np.empty(cells[0].shape[1]), np.empty(cells[1].shape[1]), np.empty(cells[2].shape[1]))
    trusts = (np.empty(cells[0].shape[1]), np.empty(cells[1].shape[1]), np.empty(cells[2].shape[1]))
    left, total, stands_out = 0.0, 0.0, 0.0
    for c in range(CHANNELS):
        unexplained, change, square = _miss(shows[c], cells[c], lit.light[c], errors[c], sizes[c])
        left, total = left + channels.area[c] * unexplained, total + channels.area[c] * change
        stands_out += square
    strength = np.sqrt(stands_out)
    for c in range(CHANNELS):
        # Where the ball stands out strongly, its seams and edges miss by more than noise without being another thing.
        limit = 4.0 * max(1.0, 1.4826 * _middle(sizes[c])) + UNMODELLED * strength
        for n in range(len(trusts[c])):
            far = sizes[c][n] / limit
            trusts[c][n] = cells[c][2, n] / ((1.0 + far * far) * noise[c])
    cross = np.empty((CHANNELS * TERMS, POSE))
    for c in range(CHANNELS):
        _cross(shows[c], slopes[c], cells[c][2], believed[c], cross[c * TERMS : (c + 1) * TERMS])
    follows, information = _following(lit, cross, believed[0] / noise[0])
    pull, found = np.zeros(POSE), np.empty(CHANNELS)
    for c in range(CHANNELS):
        _told(slopes[c], trusts[c], shows[c], follows[c * TERMS : (c + 1) * TERMS], information)
        for p in range(POSE):
            for n in range(len(trusts[c])):
                pull[p] += slopes[c][p, n] * trusts[c][n] * errors[c][n]
        free = 0.0
        for k in range(TERMS):
            for m in range(TERMS):
                free += lit.spread[c * TERMS + k, c * TERMS + m] * lit.gram[c, k, m]
        picture = np.zeros((channels.grid[c, 0], channels.grid[c, 1]))
        squares, alike, inside = _alike(shows[c], sizes[c], errors[c], channels.places[c], picture)
        found[c] = (QUIET_PIXELS + squares) / (QUIET_PIXELS + max(inside - free, 1.0)) * min(alike, MOST_ALIKE)
    return Told(information, pull, found, trusts, 1.0 - left / max(total, 1e-9), strength)


@compiled
def _middle(values: Floats) -> float:
    """The median, the upper of the middle two; of nothing, zero.

    By Hoare's selection: numpy's own takes ten seconds to compile.
    """
    if len(values) == 0:
        return 0.0
    left, low, high, middle = values.copy(), 0, len(values) - 1, len(values) // 2
    while low < high:
        pivot, i, j = left[middle], low, high
        while i <= j:
            while left[i] < pivot:
                i += 1
            while pivot < left[j]:
                j -= 1
            if i <= j:
                left[i], left[j] = left[j], left[i]
                i, j = i + 1, j - 1
        low, high = i if middle > j else low, j if middle < i else high
    return float(left[middle])


@compiled
def _cross(show: Floats, slope: Floats, weight: Floats, noise: float, cross: Floats) -> None:
    """Write how far light and pose show alike, (9, 7)."""
    for k in range(TERMS):
        for p in range(POSE):
            total = 0.0
            for n in range(show.shape[1]):
                total += show[k, n] * weight[n] * slope[p, n]
            cross[k, p] = total / noise


@compiled
def _following(lit: Lit, cross: Floats, share: float) -> tuple[Floats, Floats]:
    """How the light follows the pose (27, 7), and what keeps it from doing so tells of the pose (7, 7).

    ``share``: of the noise found in brightness, what is believed where the light is weighed. The pose is weighed by all
    of it: told by more, steps would be short, and end before the ball is reached.
    """
    follows, rest = np.zeros((len(cross), POSE)), cross.copy()
    for k in range(len(cross)):
        for m in range(len(cross)):
            for p in range(POSE):
                follows[k, p] += lit.spread[k, m] * cross[m, p]
    for k in range(len(cross)):
        first = k // TERMS * TERMS
        for m in range(TERMS):
            for p in range(POSE):
                rest[k, p] -= lit.gram[k // TERMS, k - first, m] * follows[first + m, p]
    information = np.zeros((POSE, POSE))
    for p in range(POSE):
        for q in range(POSE):
            for k in range(len(cross)):
                information[p, q] += share * follows[k, p] * rest[k, q]
    return follows, information


@compiled
def _told(slope: Floats, trust: Floats, show: Floats, follows: Floats, information: Floats) -> None:
    """Add what cells tell of the pose (7, 7), with the light following it by ``follows`` (9, 7).

    What a change of light does as well tells nothing of the pose: else a shade that follows the centre would steal its
    information.
    """
    free = slope.copy()
    for p in range(POSE):
        for k in range(TERMS):
            for n in range(free.shape[1]):
                free[p, n] -= follows[k, p] * show[k, n]
    for p in range(POSE):
        for q in range(p + 1):
            total = 0.0
            for n in range(free.shape[1]):
                total += free[p, n] * trust[n] * free[q, n]
            information[p, q] += total
            if q < p:
                information[q, p] += total


@compiled
def _alike(show: Floats, size: Floats, error: Floats, places: Places, picture: Floats) -> tuple[float, float, int]:
    """How much errors over the noise come to where the ball is: their squares, how alike neighbours are, how many.

    ``picture``: zeros, over which ``places`` (n, 2) lie. Alike: the product over rows and columns of (1 + r) / (1 - r).
    """
    total, inside, alike = 0.0, 0, 1.0
    for n in range(len(error)):
        if show[0, n] > INSIDE:
            picture[places[n, 0], places[n, 1]] = size[n] if error[n] > 0 else -size[n]
            total += size[n] * size[n]
            inside += 1
    for down, right in ((1, 0), (0, 1)):
        both = 0.0
        for i in range(picture.shape[0] - down):
            for j in range(picture.shape[1] - right):
                both += picture[i, j] * picture[i + down, j + right]
        share = min(max(both / (total + 1e-9), 0.0), 0.9)
        alike *= (1.0 + share) / (1.0 - share)
    return total, alike, inside


@compiled
def next_step(told: Told, off: Floats, precision: Floats, largest: Floats) -> tuple[Floats, Floats, float]:
    """The pose's covariance (7, 7), the step towards where it fits best, (7,), and how long that is at most, in
    standard deviations.

    ``off`` (7,): the likely pose less the pose; ``precision`` (7,) of the likely one; ``largest`` (7,) step to take.
    """
    held = told.information.copy()
    for p in range(POSE):
        held[p, p] += precision[p]
    covariance, step, longest = _inverse(held), np.zeros(POSE), 0.0
    for p in range(POSE):
        for q in range(POSE):
            step[p] += covariance[p, q] * (told.pull[q] + precision[q] * off[q])
        step[p] = min(max(step[p], -largest[p]), largest[p])
        longest = max(longest, abs(step[p]) / np.sqrt(covariance[p, p]))
    return covariance, step, longest


@compiled
def light_told(lit: Lit, told: Told, slopes: Each, precision: Floats) -> tuple[Floats, Floats]:
    """What brightness tells of the light, (9, 9), and which way it pulls it, (9,), without what was likely beforehand.

    Less what a change of pose would show as well; ``precision`` (7,) is that of the likely pose.
    """
    pose, cross, out = np.zeros((POSE, POSE)), np.zeros((TERMS, POSE)), np.empty((TERMS, TERMS))
    for p in range(POSE):
        pose[p, p] = precision[p]
        for c in range(CHANNELS):
            for q in range(POSE):
                total = 0.0
                for n in range(len(told.trusts[c])):
                    total += slopes[c][p, n] * told.trusts[c][n] * slopes[c][q, n]
                pose[p, q] += total
    _cross(lit.shows[0], slopes[0], told.trusts[0], 1.0, cross)
    covariance, pull = _inverse(pose), lit.pulled.copy()
    for k in range(TERMS):
        for m in range(TERMS):
            total = 0.0
            for n in range(len(told.trusts[0])):
                total += lit.shows[0][k, n] * told.trusts[0][n] * lit.shows[0][m, n]
            for p in range(POSE):
                for q in range(POSE):
                    total -= cross[k, p] * covariance[p, q] * cross[m, q]
            out[k, m] = total
            pull[k] += total * lit.light[0, m]
    return out, pull
