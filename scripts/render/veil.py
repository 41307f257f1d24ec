"""What hangs between the phone and the plate: a screen close before the lens, out of focus, or a cage's near side."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from .arrays import Image
from .brush import Window
from .hall import twine_light
from .netting import Mesh, cage_cover, cage_of, mesh_cover, through_box
from .optics import Optics, rays
from .scene_spec import SceneSpec
from .sun import Sun, sun_of
from .textures import sample, tile

PUPIL_M = 0.0028  # a phone lens's opening: 5 mm focal length at f/1.8
MESHES = {
    "chain_link": Mesh(0.050, 0.0037, True),  # 2 in mesh of 9-gauge wire: common practice, no source
    "netting": Mesh(0.045, 0.0022, False),
}
CLEAR = 0.02  # cover below which leaves behind a veil may still sway


@dataclass(frozen=True, slots=True, eq=False)
class Veil:
    """A layer over everything else in the picture."""

    light: Image  # (h, w, 3) linear, already multiplied by cover
    cover: Image  # (h, w) 0..1
    blank: bool

    def lay(self, region: Image, window: Window) -> None:
        """Lay the veil over a window of the picture in linear light, in place."""
        if self.blank:
            return
        top, bottom, left, right = window
        region *= 1.0 - self.cover[top:bottom, left:right, None]
        region += self.light[top:bottom, left:right]

    def thin(self, region: Image, window: Window) -> None:
        """Take what the veil covers from a window of some cover, in place."""
        if not self.blank:
            top, bottom, left, right = window
            region *= 1.0 - self.cover[top:bottom, left:right]

    def over(self, still: Image) -> Image:
        """A whole picture in linear light behind the veil."""
        if self.blank:
            return still
        out = np.array(still)
        self.lay(out, (0, out.shape[0], 0, out.shape[1]))
        return out

    def calm(self, leaves: Image) -> Image:
        """Leaves that may sway: not those near threads, which would sway with them."""
        if self.blank:
            return leaves
        import cv2

        near = cv2.dilate(self.cover, np.ones((7, 7), np.uint8))
        return np.asarray(np.where(near < CLEAR, leaves, 0.0), np.float32)


@lru_cache(maxsize=1)
def veil_of(spec: SceneSpec, optics: Optics) -> Veil:
    """The lesson's veil: a screen at ``veil_m``, the near side of a cage, both, or nothing."""
    width, height = optics.size_px
    cage = cage_of(spec)
    if spec.veil == "none" and cage is None:
        return Veil(np.zeros((1, 1, 3), np.float32), np.zeros((1, 1), np.float32), True)
    light, cover = np.zeros((height, width, 3), np.float32), np.zeros((height, width), np.float32)
    painter = _Threads(spec, optics, sun_of(spec))
    for top in range(0, height, 120):
        rows = np.arange(top, min(top + 120, height))
        u, v = np.meshgrid(np.arange(width), rows)
        ray = rays(np.stack([u.ravel(), v.ravel()], axis=1).astype(np.float64), optics)
        shape = (len(rows), width)
        for found, colour in painter.layers(ray):  # the far one first
            share = found.reshape(shape)
            light[rows] = light[rows] * (1 - share[..., None]) + colour.reshape(*shape, 3) * share[..., None]
            cover[rows] = 1 - (1 - cover[rows]) * (1 - share)
    return Veil(light, cover, not cover.any())


class _Threads:
    def __init__(self, spec: SceneSpec, optics: Optics, sun: Sun) -> None:
        self.spec, self.optics, self.sun = spec, optics, sun
        self.cage, self.slack = cage_of(spec), tile(spec.seed + 22, 4.0)
        self.focus_m = float(np.linalg.norm(optics.position_m))  # the phone focuses on the plate
        rng = np.random.default_rng([spec.seed, 52])
        forward = optics.rotation[2]
        turn = float(np.arctan2(forward[0], forward[1]) + np.radians(rng.normal(0, 8)))
        self.normal, self.across = (
            np.array([np.sin(turn), np.cos(turn), 0.0]),
            np.array([np.cos(turn), -np.sin(turn), 0]),
        )
        self.shift = rng.uniform(0, 1, 2)

    def layers(self, ray: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> list[tuple[Image, Image]]:
        """Cover (n,) and colour (n, 3) of each layer, the far one first."""
        out = []
        if self.cage is not None:
            into, _ = through_box(self.optics.position_m, ray, np.array(self.cage.low_m), np.array(self.cage.high_m))
            if np.isfinite(into.reach_m).any():
                wide = self._blur(np.where(np.isfinite(into.reach_m), into.reach_m, 1.0).astype(np.float32))
                cover = cage_cover(self.cage, self.optics.position_m, ray, into, wide, self.spec.seed)
                colour = np.broadcast_to(twine_light(self.cage.bright, self.sun).astype(np.float32), (len(ray), 3))
                out.append((cover, colour))
        if self.spec.veil != "none":
            out.append(self._screen(ray))
        return out

    def _blur(self, reach: Image) -> Image:
        """Width of a pixel and of what the lens blurs at a distance. [rad]"""
        blur = PUPIL_M * np.abs(1.0 / reach - 1.0 / self.focus_m)
        return np.asarray(np.hypot(1.0 / self.optics.focal_px, blur), np.float32)

    def _screen(self, ray: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> tuple[Image, Image]:
        mesh = MESHES[self.spec.veil]
        dn, dp, dq = ray @ self.normal, ray @ self.across, ray[:, 2]
        reach = (self.spec.veil_m / np.maximum(dn, 0.05)).astype(np.float32)
        p = (reach * dp + self.shift[0] * mesh.gap_m).astype(np.float32)
        q = (reach * dq + self.shift[1] * mesh.gap_m).astype(np.float32)
        sag = np.float32((0.06 if self.spec.veil == "chain_link" else 0.35) * mesh.gap_m)
        p, q = p + sag * sample(self.slack, p * 14, q * 14), q + sag * sample(self.slack, q * 14 + 50, p * 14)
        cover = mesh_cover(p, q, (dp, dq, dn), reach * self._blur(reach), mesh)
        tone = (1.0 + 0.25 * sample(self.slack, p * 30, q * 30))[:, None]
        return cover, np.asarray(twine_light(self.spec.veil_bright, self.sun) * tone, np.float32)
