"""The ball as the sensor sees it: a shaded sphere averaged over the exposure, each row at its own time."""

from dataclasses import dataclass

import numpy as np

from .arrays import Floats
from .brush import Patch
from .optics import Optics, Path, depths, diameter_px, ellipse_of, expose, rays
from .sun import Sun, lit

COLOURS = {
    "optic": np.array([0.62, 0.80, 0.06]),
    "white": np.array([0.82, 0.82, 0.79]),
    "worn": np.array([0.46, 0.43, 0.34]),
}


@dataclass(frozen=True, slots=True, eq=False)
class BallView:
    """A ball in one frame."""

    patch: Patch | None
    whole: float  # sum of cover that a wholly visible ball would have
    time_s: float  # mid-exposure of its row
    centre_px: Floats  # (2,) at mid-exposure
    diameter_px: float
    streak_px: float
    depth_m: float


@dataclass(frozen=True, slots=True, eq=False)
class Paint:
    """What the ball painter needs of the scene."""

    optics: Optics
    sun: Sun
    radius_m: float
    colour: Floats
    red_seam: bool


def view_ball(path: Path, pts_s: float, paint: Paint, spin_radps: Floats) -> BallView:
    """Image of the ball in the frame at ``pts_s``; ``patch`` is None outside the picture."""
    optics = paint.optics
    ends, pixels = expose(path, pts_s, np.array([0.0, 0.5, 1.0]), optics)
    point = path(ends[1:2])[0]
    streak = float(np.hypot(*(pixels[2] - pixels[0])))
    depth = float(depths(point, optics)[0])
    blank = BallView(None, 0.0, float(ends[1]), pixels[1], float("nan"), streak, depth)
    if not np.isfinite(pixels).all() or depth < 0.3 or np.abs(pixels).max() > 4 * max(optics.size_px):
        return blank
    outline = ellipse_of(point, pixels[1], paint.radius_m, optics)
    size = diameter_px(outline)
    count = int(np.clip(np.ceil(2.5 * streak) + 4, 8, 160))
    shares = (np.arange(count) + 0.5) / count
    times, track = expose(path, pts_s, shares, optics)
    patch, whole = _streak(times, track, outline, paint, point, spin_radps)
    return BallView(patch, whole, float(ends[1]), pixels[1], size, streak, depth)


def _streak(
    times: Floats, track: Floats, outline: Floats, paint: Paint, point: Floats, spin: Floats
) -> tuple[Patch | None, float]:
    optics = paint.optics
    reach = 1.0 / np.sqrt(np.linalg.eigvalsh(outline)[0]) + 2.5
    low, high = np.floor(track.min(axis=0) - reach).astype(int), np.ceil(track.max(axis=0) + reach).astype(int) + 1
    if (high - low).max() > 900:
        return None, 0.0
    y, x = np.mgrid[low[1] : high[1], low[0] : high[0]].astype(np.float64)
    cover = np.zeros(x.shape)
    colour = np.zeros((*x.shape, 3))
    velocity = np.gradient(track, times, axis=0) if len(times) > 2 else np.zeros_like(track)
    velocity = np.clip(velocity, -2e5, 2e5)
    scale = np.linalg.det(outline) ** 0.25  # 1 / mean radius
    basis = _facing(point, track[len(track) // 2], paint.optics)
    sharp = np.hypot(*(track[-1] - track[0])) < 1.2 / scale
    for index in range(len(times)):
        # A row away from the ball's middle is exposed a little later or earlier.
        late = (y - track[index, 1]) * optics.readout_s / optics.size_px[1]
        dx, dy = x - track[index, 0] - velocity[index, 0] * late, y - track[index, 1] - velocity[index, 1] * late
        q = np.sqrt(outline[0, 0] * dx * dx + 2 * outline[0, 1] * dx * dy + outline[1, 1] * dy * dy)
        disc = np.clip((1.0 - q) / scale / 1.5 + 0.5, 0.0, 1.0)  # an edge 1.5 px soft: pixel and lens
        cover += disc
        inside = disc > 0
        colour[inside] += disc[inside, None] * _shade(
            dx[inside], dy[inside], scale, basis, paint, spin * times[index], sharp
        )
    whole = float(cover.sum() / len(times))
    width, height = optics.size_px
    a, b, c, d = max(low[1], 0), min(high[1], height), max(low[0], 0), min(high[0], width)
    if b <= a or d <= c:
        return None, whole
    cut = (slice(a - low[1], b - low[1]), slice(c - low[0], d - low[0]))
    window = (int(a), int(b), int(c), int(d))
    colour, cover = colour[cut] / len(times), cover[cut] / len(times)
    return Patch(window, colour.astype(np.float32), cover.astype(np.float32)), whole


def _facing(point: Floats, pixel: Floats, optics: Optics) -> Floats:
    """(3, 3) rows: image right, image down and toward the eye, in the field frame, at a pixel."""
    sight = rays(np.array([pixel]), optics)[0]
    right = optics.rotation[0] - (optics.rotation[0] @ sight) * sight
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(sight, right), -sight])


def _shade(dx: Floats, dy: Floats, scale: float, basis: Floats, paint: Paint, turned: Floats, sharp: bool) -> Floats:
    nx, ny = np.clip(dx * scale, -1, 1), np.clip(dy * scale, -1, 1)
    nz = np.sqrt(np.clip(1 - nx**2 - ny**2, 0, 1))
    normal = nx[:, None] * basis[0] + ny[:, None] * basis[1] + nz[:, None] * basis[2]
    # The ground below takes part of the dome's light away from the lower side.
    light = lit(normal, paint.sun)
    albedo = np.repeat(paint.colour[None], len(dx), axis=0)
    if sharp and scale < 0.25:
        seam = _seam(normal, turned, scale)
        stitch = np.array([0.45, 0.06, 0.05]) if paint.red_seam else paint.colour * 0.45
        albedo = albedo * (1 - seam[:, None]) + stitch * seam[:, None]
    return np.asarray(albedo * light)


def _seam(normal: Floats, turned: Floats, scale: float) -> Floats:
    """Where the seam runs: a closed wave round the sphere, turned with the spin."""
    angle = float(np.linalg.norm(turned))
    axis = turned / angle if angle > 1e-9 else np.array([0.0, 0.0, 1.0])
    c, s = np.cos(-angle), np.sin(-angle)
    body = c * normal + s * np.cross(axis, normal) + (1 - c) * (normal @ axis)[:, None] * axis
    around = np.arctan2(body[:, 1], body[:, 0])
    gap = np.abs(np.arcsin(np.clip(body[:, 2], -1, 1)) - 0.62 * np.cos(2 * around))
    return np.asarray(0.8 * np.clip(1.0 - gap / (0.10 + 0.7 * scale), 0, 1))
