"""Whether something stands before a ball, from what lies on either side of its outline."""

from math import exp

import numpy as np

from balltrack.compiled import compiled
from balltrack.track.match import LENS, STREAK, TURN, WIDTH
from balltrack.track.patch import Image, Patch, middle
from balltrack.units import Floats

POINTS = 24  # looked at along the outline
CHANGED = 6.0  # noise by which a place must differ from the empty field to show another thing
GOES_ON = 0.3  # of that change: what differs less on the other side of the outline is the same thing going on
FILLED_STREAK = 0.7  # of the radius: in a longer streak the ends are half transparent and show no outline


def another_thing(patch: Patch, pose: Floats) -> tuple[float, float]:
    """Shares of the outline beside which another thing is seen, and across which it goes on, for it hides the ball."""
    radius, streak, lens = 0.5 * exp(pose[WIDTH]), exp(pose[STREAK]), exp(pose[LENS])
    gap = 1.0 + 2.0 * lens
    ways = np.array([-min(gap, 0.7 * radius), gap + 0.1 * radius])
    cells = patch.cells(pose[:2] + _either_side(radius, streak, pose[TURN], ways))
    stored = (cells - patch.colour_sampling.shift) / patch.colour_step
    squares = np.zeros((2, POINTS))
    _add_seen(patch.luma, patch.luma_field, cells, 1.0 / middle(patch.luma_sd), squares)
    for picture, field, noise in zip(patch.colour, patch.colour_field, patch.colour_sd, strict=True):
        _add_seen(picture, field, stored, 1.0 / middle(noise), squares)
    change, step = squares
    other = change > CHANGED**2
    goes_on = other & (step < GOES_ON**2 * change)
    return np.count_nonzero(other) / POINTS, np.count_nonzero(goes_on) / POINTS


@compiled
def _either_side(radius: float, streak: float, turn: float, ways: Floats) -> Floats:
    """(2, n, 2) places so far [px] out of points of the outline, ``ways`` (2,), seen from its middle."""
    cos, sin, half, side = np.cos(turn), np.sin(turn), POINTS // 2, POINTS // 4
    out = np.empty((2, POINTS, 2))
    for n in range(POINTS):
        if streak < FILLED_STREAK * radius:  # a circle, its halves moved apart
            angle = 2 * np.pi * n / POINTS
            ahead, aside = np.cos(angle), np.sin(angle)
            run = streak / 2 if n <= side or n > side + half else -streak / 2
        else:
            ahead, aside = 0.0, -1.0 if n < half else 1.0
            run = streak * (n % half / (half - 1) - 0.5)
        for k in range(2):
            along, beside = run + (radius + ways[k]) * ahead, (radius + ways[k]) * aside
            out[k, n, 0], out[k, n, 1] = along * cos - beside * sin, along * sin + beside * cos
    return out


@compiled
def _add_seen(picture: Image, field: Image, cells: Floats, over_noise: float, squares: Floats) -> None:
    """Add squares, (2, n), of a channel's change outside and of what it shows more inside than there, over the noise.

    ``cells`` (2, n, 2): u, v inside and outside.
    """
    for n in range(cells.shape[1]):
        in_u, in_v, out_u, out_v = cells[0, n, 0], cells[0, n, 1], cells[1, n, 0], cells[1, n, 1]
        change = _between(picture, out_u, out_v)
        more = _between(picture, in_u, in_v) - change + _between(field, in_u, in_v) - _between(field, out_u, out_v)
        squares[0, n] += (change * over_noise) ** 2
        squares[1, n] += (more * over_noise) ** 2


@compiled
def _between(picture: Image, u: float, v: float) -> float:
    """What a picture shows at a place: of the four cells about it, or of the edge."""
    height, width = picture.shape
    u, v = min(max(u, 0.0), width - 1.0), min(max(v, 0.0), height - 1.0)
    left, top = min(int(u), width - 2), min(int(v), height - 2)
    right, low = u - left, v - top
    upper = (1 - right) * picture[top, left] + right * picture[top, left + 1]
    lower = (1 - right) * picture[top + 1, left] + right * picture[top + 1, left + 1]
    return float((1 - low) * upper + low * lower)
