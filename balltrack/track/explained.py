"""What one channel of a patch, brightness or a colour, says of a ball's light and pose: sums over cells, compiled.

``show`` (9, n) are the terms of light as the channel's n cells would show them, the first being the cover; ``cells``
(3, n) hold change, empty field and weight, one over the variance of the noise; ``slope`` (7, n) is how the cells change
with the pose while the light stays as it is. Loops stand plainly, and arrays are contiguous: so they compile soon.
"""

import numpy as np
from numpy.typing import NDArray

from balltrack.compiled import compiled
from balltrack.units import Floats

TERMS, POSE = 9, 7  # of light: see `shade.shade_terms`; of a pose: see `match`
CHANNELS = 3
INSIDE = 0.05  # share of a cell from which on it shows the ball
STRAY = 15.0  # noise beyond which a pixel shows another thing
Image = NDArray[np.float32]
Places = NDArray[np.int64]


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
def add_normal(show: Floats, cells: Floats, noise: float, gram: Floats, right: Floats) -> None:
    """Write the normal equations of a channel's light, (9, 9) and (9,). ``noise``: excess of the variance."""
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
def miss(show: Floats, cells: Floats, light: Floats, error: Floats, size: Floats) -> tuple[float, float, float, float]:
    """Write what light (9,) leaves unexplained (n,), and that over the noise.

    Returns squares over the noise where the ball is: of what is left, of the change; the mean square of the ball's own
    change over the noise; and all that is left, a stray cell counting no more than another stray one.
    """
    left, total, stands_out, covered, all_left = 0.0, 0.0, 0.0, 0.0, 0.0
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
        all_left += min(square, STRAY * STRAY)
    # Beside a ball that lies outside all cells its picture rings a little, below nothing too.
    return left, total, max(stands_out, 0.0) / max(covered, 1e-6), all_left


@compiled
def lay_slopes(pictured: Floats, step: int, channel: int, field: Floats, pitch: float, slope: Floats) -> None:
    """Write slopes with the pose [per px]: ``pictured`` (6 x step, n) has those of each channel, last of the cover."""
    for p in range(POSE - 1):
        scale = 1.0 / pitch if p < 2 else 1.0
        for n in range(slope.shape[1]):
            cover = pictured[step * p + step - 1, n]
            slope[p, n] = (pictured[step * p + channel, n] - cover * field[n]) * scale
    for n in range(slope.shape[1]):  # colours stored further right look as a ball further left does
        slope[POSE - 1, n] = -slope[0, n] if step > 2 else 0.0


@compiled
def add_cross(show: Floats, slope: Floats, weight: Floats, cross: Floats) -> None:
    """Write how far light and pose show alike, (9, 7)."""
    for k in range(TERMS):
        for p in range(POSE):
            total = 0.0
            for n in range(show.shape[1]):
                total += show[k, n] * weight[n] * slope[p, n]
            cross[k, p] = total


@compiled
def add_told(slope: Floats, trust: Floats, show: Floats, follows: Floats, information: Floats) -> None:
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
def err_alike(show: Floats, size: Floats, error: Floats, places: Places, picture: Floats) -> tuple[float, float, int]:
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
