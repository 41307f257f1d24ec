"""Colour of the field's surface at any point: grass, clay, chalk, plate and bases."""

import numpy as np

from .arrays import FT, IN, Image
from .diamond import PLATE, Diamond, box
from .scene_spec import SceneSpec, diamond_of
from .textures import layered, sample, tile

GRASS = np.array([0.070, 0.135, 0.030], np.float32)  # linear albedo
TURF = np.array([0.045, 0.120, 0.050], np.float32)
CLAY = np.array([0.30, 0.165, 0.095], np.float32)
BOARD = np.array([0.40, 0.255, 0.130], np.float32)
RUBBER = np.array([0.060, 0.062, 0.066], np.float32)
WHITE = np.array([0.80, 0.80, 0.78], np.float32)


class Ground:
    """The lesson's ground: built once, then asked for colours."""

    def __init__(self, spec: SceneSpec) -> None:
        self.spec = spec
        self.diamond = diamond_of(spec)
        self.noise = tile(spec.seed, 1.0)
        self.soft = tile(spec.seed + 1, 3.0)

    def albedo(self, x: Image, y: Image, footprint: Image) -> Image:
        """Linear albedo (n, 3) at ground points [m], for pixels that cover ``footprint`` [m]."""
        if self.spec.ground in ("wood", "rubber"):
            floor = self._wood(x, y, footprint) if self.spec.ground == "wood" else self._rubber(x, y, footprint)
            chalk = self._chalk(x, y, footprint)[..., None]
            return self._solids(x, y, footprint, floor * (1.0 - chalk) + WHITE * chalk)
        grass = self._grass(x, y, footprint)
        clay = self._clay(x, y, footprint)
        share = self._clay_share(x, y, footprint)[..., None]
        colour = grass * (1.0 - share) + clay * share
        chalk = self._chalk(x, y, footprint)[..., None]
        colour = colour * (1.0 - chalk) + WHITE * chalk
        return self._solids(x, y, footprint, colour)

    def _wood(self, x: Image, y: Image, footprint: Image) -> Image:
        """Boards across the room, each of its own tone, grained along."""
        broad, long = np.float32(0.057), np.float32(1.3)
        row = np.floor(x / broad)
        start = 0.37 * long * np.mod(row * 7, 5)
        board = np.floor((y + start) / long)
        keep = np.clip(broad / (2 * footprint) - 0.35, 0, 1)
        tone = 0.10 * keep * sample(self.noise, row * 31.7, board * 17.3)
        grain = layered(self.noise, x * 9, y * 0.6, footprint * 9, (0.25, 0.08), 0.3)
        gap = np.clip((0.0008 - np.abs(np.mod(x, broad) - broad / 2)) / footprint + 0.5, 0, 1)
        gap = gap * np.clip(0.0016 / footprint, 0, 1)
        wear = 0.05 * layered(self.soft, x, y, footprint, (4.0, 1.3), 0.4)
        return np.asarray(BOARD * (1.0 + tone + 0.05 * grain + wear - 0.5 * gap)[..., None], np.float32)

    def _rubber(self, x: Image, y: Image, footprint: Image) -> Image:
        """Dark sheet with light crumbs."""
        crumbs = np.clip(layered(self.noise, x, y, footprint, (0.012, 0.006), 0.0) - 1.3, 0, 1)[..., None]
        wear = layered(self.soft, x, y, footprint, (3.0, 0.8, 0.2), 0.4)
        joint = np.clip((0.002 - np.abs(np.mod(x + 0.3, 1.25) - 0.6)) / footprint + 0.5, 0, 1)
        joint = joint * np.clip(0.004 / footprint, 0, 1)
        base = RUBBER * (1.0 + 0.08 * wear - 0.4 * joint)[..., None]
        return np.asarray(base * (1 - crumbs) + 0.32 * crumbs, np.float32)

    def _grass(self, x: Image, y: Image, footprint: Image) -> Image:
        base = TURF if self.spec.ground == "turf" else GRASS
        rough = layered(self.noise, x, y, footprint, (0.9, 0.28, 0.09, 0.03, 0.012), 0.25)
        broad = layered(self.soft, x, y, footprint, (23.0, 7.0, 2.5), 0.4)
        stripes = np.tanh(3.0 * np.sin((x + y) * (np.pi / 5.5))) * 0.09
        tone = 1.0 + 0.13 * rough + 0.10 * broad + stripes
        dry = np.clip(0.15 + 0.16 * broad, 0.0, 0.5) * (0.2 if self.spec.ground == "turf" else 1.0)
        colour = base * (1.0 - dry[..., None]) + np.array([0.20, 0.17, 0.07], np.float32) * dry[..., None]
        return np.asarray(colour * np.clip(tone, 0.25, 2.2)[..., None], np.float32)

    def _clay(self, x: Image, y: Image, footprint: Image) -> Image:
        rough = layered(self.noise, y, x, footprint, (0.7, 0.2, 0.07, 0.025, 0.01), 0.2)
        broad = layered(self.soft, y, x, footprint, (9.0, 3.0, 1.0), 0.4)
        pebbles = np.clip(layered(self.noise, x + 31, y, footprint, (0.035, 0.015), 0.1) - 1.9, 0, 1)
        rake = 0.03 * np.sin((0.8 * x + 0.6 * y) * 2 * np.pi / 0.11) * np.clip(0.04 / footprint - 0.3, 0, 1)
        worn = np.exp(-(((np.abs(x) - 0.8) / 0.35) ** 2 + ((y - 0.2) / 0.5) ** 2))
        tone = (1.0 + 0.10 * rough + 0.10 * broad + rake - 0.16 * worn) * self.spec.infield_shade
        colour = CLAY * np.clip(tone, 0.3, 2.0)[..., None]
        return np.asarray(colour * (1.0 - 0.5 * pebbles[..., None]) + 0.12 * pebbles[..., None], np.float32)

    def _clay_share(self, x: Image, y: Image, footprint: Image) -> Image:
        if self.spec.ground == "turf":
            return np.zeros_like(x)
        d = self.diamond
        ragged = 0.12 * layered(self.noise, x, y, footprint, (1.5, 0.5, 0.15), 0.5)
        edge = np.maximum(footprint, 0.04)
        circle = _inside(np.hypot(x, y - 0.2) - 3.96, ragged, edge)
        arc = np.hypot(x, y - d.pitching_m) - (d.base_path_m + 30 * FT - 0.4 * d.pitching_m)
        wide = np.maximum(arc, np.abs(x) - y - 3.0)
        infield = _inside(wide, ragged, edge)
        if self.spec.ground == "grass":
            half = d.base_path_m / np.sqrt(2.0)
            lawn = np.abs(x) + np.abs(y - half) - (half - 1.9)
            infield = infield * (1.0 - _inside(lawn, ragged, edge))
            mound = _inside(np.hypot(x, y - d.pitching_m) - 2.4, ragged, edge)
            infield = np.maximum(infield, mound)
        return np.maximum(circle, infield)

    def _chalk(self, x: Image, y: Image, footprint: Image) -> Image:
        d = self.diamond
        share = np.zeros_like(x)
        broad = 3.0 * IN
        for side in (-1, 1):
            inner, outer, back, front = box(d, side)
            middle, half_w = 0.5 * (inner + outer), 0.5 * abs(outer - inner)
            gap = np.maximum(np.abs(x - middle) - half_w, np.abs(y - 0.5 * (front + back)) - 0.5 * (front - back))
            share = np.maximum(share, _band(gap, broad, footprint))
        if self.spec.venue != "field":
            return np.asarray(share, np.float32)
        along, across = (np.abs(x) + y) / np.sqrt(2.0), (y - np.abs(x)) / np.sqrt(2.0)
        line = np.clip((across + 0.5 * footprint) / footprint, 0, 1) * np.clip((broad - across) / footprint + 0.5, 0, 1)
        start = 1.9 if d.softball else 1.6
        line *= np.clip((along - start) / footprint + 0.5, 0, 1) * (along < d.fence_m)
        share = np.maximum(share, line)
        scuff = layered(self.noise, x + 7, y + 3, footprint, (0.6, 0.15, 0.05, 0.02), 0.3)
        near = np.clip(1.0 - np.hypot(np.abs(x) - 0.7, y - 0.2) / 1.2, 0.0, 1.0)
        wear = 1.0 if self.spec.ground == "turf" else np.clip(0.86 + 0.16 * scuff - 0.5 * near, 0.08, 1.0)
        return np.asarray(share * wear, np.float32)

    def _solids(self, x: Image, y: Image, footprint: Image, colour: Image) -> Image:
        d = self.diamond
        half = 7.5 * IN
        leg = d.base_path_m / np.sqrt(2.0)
        smudge = np.clip(
            0.9 + 0.09 * sample(self.soft, x * 9, y * 9) + 0.06 * sample(self.noise, x * 60, y * 60), 0.5, 1.1
        )
        shapes = [_polygon(x, y, PLATE)]
        if self.spec.venue == "field":
            along, across = (np.abs(x) + y) / np.sqrt(2.0), (y - np.abs(x)) / np.sqrt(2.0)
            shapes.append(np.maximum(np.abs(along - d.base_path_m + half) - half, np.abs(across - half) - half))
            u, v = (x + (y - 2 * leg)) / np.sqrt(2.0), (x - (y - 2 * leg)) / np.sqrt(2.0)
            shapes.append(np.maximum(np.abs(u) - half, np.abs(v) - half))
            shapes.append(np.maximum(np.abs(x) - 12 * IN, np.abs(y - d.pitching_m - 3 * IN) - 3 * IN))
        for index, gap in enumerate(shapes):
            rim = np.clip(0.5 - (gap - 0.012) / footprint, 0, 1)[..., None] * (0.55 if index == 0 else 0.3)
            share = np.clip(0.5 - gap / footprint, 0, 1)[..., None]
            colour = colour * (1.0 - rim) + 0.03 * rim
            colour = colour * (1.0 - share) + WHITE * share * smudge[..., None]
        return np.asarray(colour, np.float32)


def _inside(gap: Image, ragged: Image, edge: Image) -> Image:
    return np.asarray(np.clip(0.5 - (gap + ragged) / (2.0 * edge), 0.0, 1.0), np.float32)


def _band(gap: Image, broad: float, footprint: Image) -> Image:
    """Share of a line that lies just inside an outline."""
    outer = np.clip(0.5 - gap / footprint, 0.0, 1.0)
    inner = np.clip(0.5 - (gap + broad) / footprint, 0.0, 1.0)
    return np.asarray(outer - inner, np.float32)


def _polygon(x: Image, y: Image, corners: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> Image:
    """Signed distance to a convex polygon's sides: negative inside."""
    gap = np.full_like(x, -np.inf)
    middle = corners.mean(axis=0)
    for (ax, ay), (bx, by) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        nx, ny = by - ay, ax - bx
        size = np.hypot(nx, ny)
        if (middle[0] - ax) * nx + (middle[1] - ay) * ny > 0:
            nx, ny = -nx, -ny
        gap = np.maximum(gap, ((x - ax) * nx + (y - ay) * ny) / size)
    return gap


__all__ = ["Diamond", "Ground"]
