"""Whether something stands before a ball, from what lies on either side of its outline."""

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
    radius, streak = 0.5 * np.exp(pose[WIDTH]), np.exp(pose[STREAK])
    gap = 1.0 + 2.0 * np.exp(pose[LENS])
    points, outward = _outline(radius, streak, float(pose[TURN]))
    inside, outside = (
        patch.cells(pose[:2] + points + way * outward) for way in (-min(gap, 0.7 * radius), gap + 0.1 * radius)
    )
    noise = np.array([middle(each) for each in (patch.luma_sd, *patch.colour_sd)])
    field = _shown(patch, noise, outside, 0.0)
    within, beyond = _shown(patch, noise, inside, 1.0), _shown(patch, noise, outside, 1.0)
    change = np.linalg.norm(beyond - field, axis=1)
    other = change > CHANGED
    goes_on = other & (np.linalg.norm(within - beyond, axis=1) < GOES_ON * change)
    return float(other.mean()), float(goes_on.mean())


def _outline(radius: float, streak: float, turn: float) -> tuple[Floats, Floats]:
    """Points (n, 2) of the outline from its middle, and the ways out of it (n, 2), one long."""
    along, beside = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    if streak < FILLED_STREAK * radius:
        angle = 2 * np.pi * np.arange(POINTS) / POINTS
        outward = np.cos(angle)[:, None] * along + np.sin(angle)[:, None] * beside
        return radius * outward + streak / 2 * np.sign(np.cos(angle))[:, None] * along, outward
    run = np.linspace(-0.5, 0.5, POINTS // 2)[:, None] * streak * along
    outward = np.concatenate([np.tile(side * beside, (len(run), 1)) for side in (-1, 1)])
    return np.concatenate([run, run]) + radius * outward, outward


def _shown(patch: Patch, noise: Floats, cells: Floats, change: float) -> Floats:
    """(n, 3) brightness and colours at places in cells over the noise (3,), with so much of what changed."""
    step, (shift_u, shift_v) = patch.colour_sampling.step, patch.colour_sampling.shift
    stored = (cells - np.array([shift_u, shift_v])) / step
    channels = [(patch.luma, patch.luma_field), *zip(patch.colour, patch.colour_field, strict=True)]
    shown = [_between(*each, stored if c else cells, change) for c, each in enumerate(channels)]
    return np.asarray(np.stack(shown, axis=1) / noise)


@compiled
def _between(picture: Image, field: Image, places: Floats, change: float) -> Floats:
    """(n,) ``field + change * picture`` at places u, v: of the four cells about each, or of the edge."""
    height, width = picture.shape
    out = np.empty(len(places))
    for n in range(len(places)):
        u, v = min(max(places[n, 0], 0.0), width - 1.0), min(max(places[n, 1], 0.0), height - 1.0)
        left, top = min(int(u), width - 2), min(int(v), height - 2)
        total = 0.0
        for i in range(2):
            for j in range(2):
                weight = (v - top if i else top + 1 - v) * (u - left if j else left + 1 - u)
                total += weight * (field[top + i, left + j] + change * picture[top + i, left + j])
        out[n] = total
    return out
