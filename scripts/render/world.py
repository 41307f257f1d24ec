"""The still part of the picture: ground, fence, trees and sky, or a hall, from every pixel's own ray. Once a lesson."""

import itertools
from dataclasses import dataclass

import numpy as np

from .arrays import Floats, Image
from .ground import Ground
from .hall import HallPainter
from .optics import Optics, rays
from .scene_spec import SceneSpec
from .sun import Sun
from .textures import layered, sample, tile

TABLE = 7200  # azimuth steps of the walls' distance table


@dataclass(frozen=True, slots=True, eq=False)
class Backdrop:
    """What stays: linear light, and how far leaves at each pixel sway."""

    light: Image  # (h, w, 3) linear rgb, 1 = white
    leaves: Image  # (h, w) 0..1


def paint_backdrop(spec: SceneSpec, optics: Optics, sun: Sun) -> Backdrop:
    """Render the still scene, two rays a pixel (4K: one)."""
    width, height = optics.size_px
    offsets = [(-0.25, -0.2), (0.25, 0.2)] if height <= 1080 else [(0.0, 0.0)]
    painter = _Painter(spec, optics, sun) if spec.venue == "field" else HallPainter(spec, optics, sun)
    light = np.zeros((height, width, 3), np.float32)
    leaves = np.zeros((height, width), np.float32)
    band = 120
    for top in range(0, height, band):
        rows = np.arange(top, min(top + band, height))
        for du, dv in offsets:
            u, v = np.meshgrid(np.arange(width) + du, rows + dv)
            ray = rays(np.stack([u.ravel(), v.ravel()], axis=1), optics)
            colour, leaf = painter.colours(ray)
            light[rows] += colour.reshape(len(rows), width, 3) / len(offsets)
            leaves[rows] += leaf.reshape(len(rows), width) / len(offsets)
    return Backdrop(light, leaves)


class _Painter:
    def __init__(self, spec: SceneSpec, optics: Optics, sun: Sun) -> None:
        self.spec, self.sun, self.optics = spec, sun, optics
        self.ground = Ground(spec)
        self.noise, self.soft = tile(spec.seed + 2, 1.0), tile(spec.seed + 3, 4.0)
        self.fence = _distance_table(_park(spec, 0.0), optics.position_m)
        self.trees = _distance_table(_park(spec, 14.0), optics.position_m)
        self.far_trees = _distance_table(_park(spec, 60.0), optics.position_m)

    def colours(self, ray: Floats) -> tuple[Image, Image]:
        """Light and leaf share of rays (n, 3), painted from far to near."""
        colour = self._sky(ray)
        leaf = np.zeros(len(ray), np.float32)
        spin = (np.arctan2(ray[:, 0], ray[:, 1]) / (2 * np.pi)) % 1.0 * TABLE
        flat = np.hypot(ray[:, 0], ray[:, 1])
        climb = ray[:, 2] / np.maximum(flat, 1e-9)
        colour = self._ground(ray, colour)
        for table, tall, seed in ((self.far_trees, 15.0, 5.0), (self.trees, 9.5, 0.0)):
            colour, share = self._treeline(colour, spin, climb, table, tall, seed)
            leaf = np.maximum(leaf * (1 - share), share)
        fence_share, colour = self._fence(colour, spin, climb)
        near = self._before(ray, self.fence, spin)
        ground = self._ground(ray, colour)
        colour = np.where(near[:, None], ground, colour)
        leaf = np.where(near, 0.0, leaf * (1 - fence_share)).astype(np.float32)
        return colour.astype(np.float32), leaf

    def _before(self, ray: Floats, table: Floats, spin: Floats) -> "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]":
        """Whether a ray meets the ground before it meets a wall."""
        reach = np.where(ray[:, 2] < -1e-6, -self.optics.position_m[2] * np.hypot(ray[:, 0], ray[:, 1]), 0.0)
        reach = np.where(ray[:, 2] < -1e-6, reach / np.minimum(ray[:, 2], -1e-6), np.inf)
        return np.asarray(reach < _look_up(table[:, 0], spin))

    def _sky(self, ray: Floats) -> Image:
        sun = self.sun
        rise = np.clip(ray[:, 2], 0.0, 1.0)
        blend = (1.0 - np.exp(-3.2 * rise))[:, None]
        colour = sun.sky_horizon * (1 - blend) + sun.sky_zenith * blend
        far = 1.0 / (rise + 0.12)
        x, y = (ray[:, 0] * far * 55).astype(np.float32), (ray[:, 1] * far * 55).astype(np.float32)
        puff = sum(sample(self.soft, x * s + 31 * s, y * s) / s for s in (1.0, 2.1, 4.3, 9.0))
        cover = 1.0 / (1.0 + np.exp(-(np.asarray(puff) - 1.2 * (1 - 2 * sun.cloud_cover)) * 2.2))
        cover = (cover * np.clip(rise * 9, 0.25, 1.0))[:, None]
        dark = 1.0 - 0.16 * np.clip(np.asarray(puff), 0, 1.5)[:, None]
        colour = colour * (1 - 0.85 * cover) + sun.cloud * dark * 0.85 * cover
        glow = np.exp(-((1.0 - ray @ sun.toward) / 0.02))[:, None] * sun.direct
        return np.asarray(colour + 0.5 * glow, np.float32)

    def _treeline(
        self, colour: Image, spin: Floats, climb: Floats, table: Floats, tall: float, seed: float
    ) -> tuple[Image, Image]:
        far = _look_up(table[:, 0], spin)
        along = _look_up(table[:, 1], spin).astype(np.float32) + 1000.0 * np.float32(seed)
        z = (self.optics.position_m[2] + climb * far).astype(np.float32)
        foot = (far / self.optics.focal_px).astype(np.float32)
        zero: Image = np.zeros(along.shape, np.float32)
        crown = 1.6 * sample(self.noise, along * np.float32(0.13), zero + 11) + 0.9 * sample(
            self.noise, along * np.float32(0.41), zero + 57
        )
        fine = layered(self.noise, along, z * 1.2, foot, (2.6, 1.1, 0.45, 0.2), 0.55)
        top = tall * (1.0 + 0.12 * crown) + 0.9 * fine
        share = np.asarray(np.clip((top - z) / (1.2 * foot + 0.15), 0.0, 1.0), np.float32)
        hole = np.clip((fine - 1.5) * 1.2, 0, 1) * np.clip((z - 0.45 * top) / 4.0, 0, 1)
        share = share * (1 - 0.8 * hole)
        species = sample(self.soft, along * np.float32(0.11), zero + 3)
        green = np.stack([0.042 + 0.016 * species, 0.078 + 0.012 * species, 0.022 + zero], axis=1)
        clump = layered(self.noise, along, z * 1.3, foot, (3.4, 1.3, 0.5, 0.22), 0.35)
        shade = np.clip(0.75 + 0.28 * clump + 0.06 * (z - 0.5 * top), 0.18, 1.9)
        leaves = green * shade[:, None] * (self.sun.ambient + 0.7 * self.sun.direct)
        haze = (1.0 - np.exp(-far / 420.0))[:, None]
        leaves = leaves * (1 - haze) + 0.7 * self.sun.sky_horizon * haze
        return (
            np.asarray(colour * (1 - share[:, None]) + leaves * share[:, None], np.float32),
            np.asarray(share, np.float32),
        )

    def _fence(self, colour: Image, spin: Floats, climb: Floats) -> tuple[Image, Image]:
        far = _look_up(self.fence[:, 0], spin)
        along = _look_up(self.fence[:, 1], spin).astype(np.float32)
        z = self.optics.position_m[2] + climb * far
        foot = far / self.optics.focal_px
        tall = 1.83
        inside = np.clip((tall - z) / foot + 0.5, 0, 1)
        outfield = _look_up(self.fence[:, 2], spin) > 0.5
        cap = np.clip(1.0 - np.abs(z - tall + 0.06) / 0.06 + 0.5 * foot / 0.06, 0, 1)
        post = np.clip((0.04 - np.abs(np.mod(along, 3.0) - 1.5)) / foot + 0.5, 0, 1) * np.clip(0.09 / foot, 0, 1)
        screen = np.array([0.020, 0.055, 0.035])
        ripple = 1.0 + 0.15 * sample(self.soft, along * 2.0, (z * 2.0).astype(np.float32))
        bright = self.sun.ambient + 0.55 * self.sun.direct
        cloth = screen * ripple[:, None] * bright
        cloth = cloth * (1 - cap[:, None]) + np.array([0.55, 0.42, 0.05]) * bright * cap[:, None]
        wire = np.array([0.16, 0.17, 0.18]) * bright
        paint = np.where(outfield[:, None], cloth, wire)
        paint = paint * (1 - post[:, None]) + wire * post[:, None]
        # Chain link beside the foul lines lets most light through.
        mesh = 0.24 + 0.12 * np.clip(foot / 0.05, 0, 1)
        share = inside * np.where(outfield, 1.0, np.maximum(np.maximum(mesh, post), 0.7 * (z > tall - 0.06)))
        return np.asarray(share, np.float32), np.asarray(
            colour * (1 - share[:, None]) + paint * share[:, None], np.float32
        )

    def _ground(self, ray: Floats, colour: Image) -> Image:
        down = ray[:, 2] < -1e-4
        if not down.any():
            return colour
        reach = -self.optics.position_m[2] / ray[down, 2]
        x = (self.optics.position_m[0] + ray[down, 0] * reach).astype(np.float32)
        y = (self.optics.position_m[1] + ray[down, 1] * reach).astype(np.float32)
        near = reach < 400.0
        foot = (reach / self.optics.focal_px / np.sqrt(np.clip(-ray[down, 2], 0.01, 1.0))).astype(np.float32)
        bump = 1.0 + 0.05 * self.sun.casts * layered(self.ground.noise, x * 1.01, y, foot, (0.3, 0.06, 0.02), 0.2)
        bright = self.sun.ambient + max(float(self.sun.toward[2]), 0.0) * self.sun.direct
        paint = self.ground.albedo(x, y, foot) * bump[:, None] * bright * 1.25
        haze = (1.0 - np.exp(-reach / 900.0))[:, None]
        paint = paint * (1 - haze) + 0.8 * self.sun.sky_horizon * haze
        out = colour.copy()
        out[down] = np.where(near[:, None], paint, colour[down])
        return out


def _park(spec: SceneSpec, outside_m: float) -> Floats:
    """Outline (n, 3) of the fence, or of trees behind it: x, y, and whether it is outfield fence."""
    radius, side = spec.fence_m + outside_m, 13.0 + outside_m
    arc = np.radians(np.linspace(-45 - np.degrees(side / radius), 45 + np.degrees(side / radius), 61))
    outfield = np.stack([radius * np.sin(arc), radius * np.cos(arc), np.ones_like(arc)], axis=1)
    dug = max(11.0, spec.distance_m + 3.0) + outside_m  # the backstop stands behind the camera
    lower = np.array([[side + 4.0, 4.0, 0.0], [5.0, -dug, 0.0], [-5.0, -dug, 0.0], [-side - 4.0, 4.0, 0.0]])
    return np.concatenate([outfield, lower, outfield[:1] * [1, 1, 0]])


def _distance_table(outline: Floats, eye: Floats) -> Floats:
    """Per azimuth step: distance to the outline, arc length along it, outfield flag."""
    azimuth = np.arange(TABLE) * 2 * np.pi / TABLE
    way = np.stack([np.sin(azimuth), np.cos(azimuth)], axis=1)
    table = np.full((TABLE, 3), 0.0)
    table[:, 0] = np.inf
    length = 0.0
    for start, end in itertools.pairwise(outline):
        a, side = start[:2] - eye[:2], end[:2] - start[:2]
        size = float(np.hypot(*side))
        cross = way[:, 0] * side[1] - way[:, 1] * side[0]
        safe = np.where(np.abs(cross) < 1e-12, np.nan, cross)
        reach = (a[0] * side[1] - a[1] * side[0]) / safe
        share = (a[0] * way[:, 1] - a[1] * way[:, 0]) / safe
        hit = (reach > 0) & (share >= 0) & (share <= 1) & (reach < table[:, 0])
        table[hit, 0], table[hit, 1], table[hit, 2] = reach[hit], length + share[hit] * size, start[2]
        length += size
    table[~np.isfinite(table[:, 0]), 0] = 1e4
    return table


def _look_up(column: Floats, spin: Floats) -> Floats:
    low = spin.astype(np.int64) % TABLE
    share = spin - np.floor(spin)
    a, b = column[low], column[(low + 1) % TABLE]
    jump = np.abs(b - a) > 5.0
    return np.asarray(np.where(jump, a, a * (1 - share) + b * share))
