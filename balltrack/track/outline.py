"""Whether something stands before a ball, from what lies on either side of its outline."""

import cv2
import numpy as np

from balltrack.track.match import LENS, STREAK, TURN, WIDTH
from balltrack.track.patch import Patch
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
    field, within, beyond = _shown(patch, outside, 0.0), _shown(patch, inside, 1.0), _shown(patch, outside, 1.0)
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


def _shown(patch: Patch, cells: Floats, change: float) -> Floats:
    """(n, 3) brightness and colours at places in cells, over the noise, with so much of the change from the field."""
    u, v = cells.T.astype(np.float32)
    step, (shift_u, shift_v) = patch.colour_sampling.step, patch.colour_sampling.shift
    u_colour, v_colour = (u - np.float32(shift_u)) / step, (v - np.float32(shift_v)) / step
    luma = (patch.luma_field + np.float32(change) * patch.luma) / np.median(patch.luma_sd)
    colours = patch.colour_field + np.float32(change) * patch.colour
    colours /= np.median(patch.colour_sd, axis=(1, 2), keepdims=True)
    places = [(luma, u, v), *((colour, u_colour, v_colour) for colour in colours)]
    return np.stack([cv2.remap(*each, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).ravel() for each in places], 1)
