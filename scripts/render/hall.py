"""Indoors: a gym with snow-white walls, or the shed in which a cage hangs; from every pixel's own ray."""

import numpy as np

from .arrays import Floats, Image
from .ground import Ground
from .netting import cage_cover, cage_of, through_box
from .optics import Optics
from .room import room_of
from .scene_spec import SceneSpec
from .sun import Sun
from .textures import layered, sample, tile

GYM_WHITE = np.array([0.86, 0.86, 0.85], np.float32)
SHED_GREY = np.array([0.40, 0.41, 0.40], np.float32)
CONCRETE = np.array([0.22, 0.215, 0.20], np.float32)


class HallPainter:
    """Colours of rays inside a hall."""

    def __init__(self, spec: SceneSpec, optics: Optics, sun: Sun) -> None:
        self.spec, self.optics, self.sun = spec, optics, sun
        self.room = room_of(spec)
        self.ground, self.cage = Ground(spec), cage_of(spec)
        self.noise, self.soft = tile(spec.seed + 2, 1.0), tile(spec.seed + 3, 4.0)
        self.rng_look = np.random.default_rng([spec.seed, 51]).uniform(0, 1, 8)
        self.level = sun.ambient + 0.2 * sun.direct  # light on a wall

    def colours(self, ray: Floats) -> tuple[Image, Image]:
        """Light and leaf share (none) of rays (n, 3)."""
        room, eye = self.room, self.optics.position_m
        low, high = np.array([-room.half_x, room.back_y, 0.0]), np.array([room.half_x, room.front_y, room.tall])
        _, leave = through_box(eye, ray, low, high)
        place = (eye + leave.reach_m[:, None] * ray).astype(np.float32)
        foot = (leave.reach_m / self.optics.focal_px).astype(np.float32)
        colour = np.zeros((len(ray), 3), np.float32)
        floor, roof = (leave.axis == 2) & ~leave.upper, (leave.axis == 2) & leave.upper
        corner = self._corners(place, leave.axis)
        for part, paint in ((floor, self._floor), (roof, self._roof)):
            if part.any():
                colour[part] = paint(place[part], foot[part], ray[part])
        for axis in (0, 1):
            for upper in (False, True):
                part = (leave.axis == axis) & (leave.upper == upper)
                if part.any():
                    colour[part] = self._wall(place[part], foot[part], axis, upper)
        colour *= corner[:, None]
        if self.cage is not None:
            colour = self._behind_netting(colour, ray)
        return colour, np.zeros(len(ray), np.float32)

    def _behind_netting(self, colour: Image, ray: Floats) -> Image:
        assert self.cage is not None
        cage, eye = self.cage, self.optics.position_m
        _, out = through_box(eye, ray, np.array(cage.low_m), np.array(cage.high_m))
        cover = cage_cover(cage, eye, ray, out, 1.0 / self.optics.focal_px, self.spec.seed)[:, None]
        return np.asarray(colour * (1 - cover) + twine_light(cage.bright, self.sun) * cover, np.float32)

    def _corners(self, place: Image, axis: "np.ndarray[tuple[int, ...], np.dtype[np.int64]]") -> Image:
        """Less light where walls, floor and roof meet."""
        room = self.room
        gaps = np.stack(
            [
                room.half_x - np.abs(place[:, 0]),
                np.minimum(place[:, 1] - room.back_y, room.front_y - place[:, 1]),
                np.minimum(place[:, 2], room.tall - place[:, 2]),
            ],
            axis=1,
        )
        gaps[np.arange(len(place)), axis] = np.inf
        near = np.maximum(gaps.min(axis=1), 0.0)
        slow = sample(self.soft, place[:, 0] * 0.8 + place[:, 1] * 0.5, place[:, 2] * 0.8 + place[:, 1] * 0.6)
        return np.asarray((1.0 - 0.18 * np.exp(-near / 0.5)) * (1.0 + 0.03 * slow), np.float32)

    def _floor(self, place: Image, foot: Image, ray: Floats) -> Image:
        x, y = place[:, 0], place[:, 1]
        wide = np.asarray(foot / np.sqrt(np.clip(-ray[:, 2], 0.01, 1.0)), np.float32)
        albedo = self.ground.albedo(x, y, wide)
        if self.cage is not None:
            low, high = self.cage.low_m, self.cage.high_m
            out = np.maximum(np.abs(x) - high[0], np.maximum(low[1] - y, y - high[1])) - 0.15
            rough = layered(self.noise, x, y, wide, (1.3, 0.4, 0.1, 0.03), 0.4)
            bare = CONCRETE * (1.0 + 0.07 * rough)[:, None]
            share = np.clip(out / wide + 0.5, 0, 1)[:, None]
            albedo = albedo * (1 - share) + bare * share
        light = albedo * (self.sun.ambient + self.sun.direct)
        if self.spec.ground == "wood":  # varnish: more of a mirror the flatter one looks (Schlick's rule)
            mirror = 0.035 + 0.5 * np.clip(1.0 + ray[:, 2], 0, 1) ** 5
            light = light * (1 - mirror[:, None]) + 0.75 * self.level * mirror[:, None]
        return np.asarray(light, np.float32)

    def _roof(self, place: Image, foot: Image, ray: Floats) -> Image:
        x, y = place[:, 0], place[:, 1]
        white = self.spec.venue == "gym"
        albedo = np.repeat((0.5 if white else 0.12) * np.ones((1, 3), np.float32), len(x), axis=0)
        beam = np.clip((0.12 - np.abs(np.mod(y, 3.6) - 1.8)) / foot + 0.5, 0, 1)[:, None]
        albedo = albedo * (1 - 0.45 * beam)
        lamp = np.maximum(np.abs(np.mod(x + 1.5, 3.0) - 1.5) - 0.16, np.abs(np.mod(y, 3.6) - 0.9) - 0.62)
        shine = np.clip(0.5 - lamp / foot, 0, 1)[:, None]
        return np.asarray(albedo * self.level * (1 - shine) + 2.6 * shine, np.float32)

    def _wall(self, place: Image, foot: Image, axis: int, upper: bool) -> Image:
        along, z = place[:, 1 - axis], place[:, 2]
        look = self.rng_look
        if self.spec.venue == "gym":
            row = np.floor(z / 0.2)
            joint = np.maximum(
                np.clip((0.006 - np.abs(np.mod(z, 0.2) - 0.1)) / foot + 0.5, 0, 1),
                np.clip((0.006 - np.abs(np.mod(along + 0.2 * row, 0.4) - 0.2)) / foot + 0.5, 0, 1),
            ) * np.clip(0.012 / foot, 0, 1)
            rough = layered(self.noise, along, z, foot, (0.5, 0.1, 0.03), 0.4)
            albedo = GYM_WHITE * (1.0 + 0.008 * rough - 0.10 * joint)[:, None]
            if look[0] < 0.35 and axis == 1 and upper:  # mats along the far wall
                mat = np.array([[0.05, 0.08, 0.22], [0.22, 0.04, 0.05], [0.05, 0.14, 0.08]])[int(look[1] * 3)]
                seam = np.clip((0.01 - np.abs(np.mod(along, 1.2) - 0.6)) / foot + 0.5, 0, 1)
                share = np.clip((1.8 - z) / foot + 0.5, 0, 1)[:, None]
                albedo = albedo * (1 - share) + mat * (1 - 0.5 * seam[:, None]) * share
            skirt = np.clip((0.10 - z) / foot + 0.5, 0, 1)[:, None]
            albedo = albedo * (1 - skirt) + 0.06 * skirt
        else:
            rib = np.sin(along * 2 * np.pi / 0.3) * np.clip(0.1 / foot - 0.5, 0, 1)
            stain = layered(self.soft, along, z * 0.4, foot, (4.0, 1.2, 0.4), 0.4)
            albedo = SHED_GREY * (1.0 + 0.10 * rib + 0.06 * stain)[:, None]
            low = np.clip((1.1 - z) / foot + 0.5, 0, 1)[:, None]
            albedo = albedo * (1 - 0.45 * low)
        albedo = self._door(albedo, along, z, foot, 2 * axis + upper)
        rise = 0.86 + 0.14 * np.clip(z / self.room.tall, 0, 1)
        return np.asarray(albedo * self.level * rise[:, None], np.float32)

    def _door(self, albedo: Image, along: Image, z: Image, foot: Image, wall: int) -> Image:
        """A pair of doors with a frame, somewhere along each wall."""
        middle = (self.rng_look[4 + wall] - 0.5) * 9.0
        gap = np.maximum(np.abs(along - middle) - 0.95, z - 2.1)
        frame, leaf = np.clip(0.5 - (gap - 0.06) / foot, 0, 1)[:, None], np.clip(0.5 - gap / foot, 0, 1)[:, None]
        split = np.clip((0.01 - np.abs(along - middle)) / foot + 0.5, 0, 1)[:, None]
        tint = np.array([0.10, 0.12, 0.16]) + 0.25 * self.rng_look[2]
        albedo = albedo * (1 - frame) + 0.18 * frame
        return np.asarray(albedo * (1 - leaf) + tint * (1 - 0.8 * split) * leaf, np.float32)


def twine_light(bright: bool, sun: Sun) -> Floats:
    """What light twine or wire gives back."""
    return np.asarray((0.45 if bright else 0.025) * (0.8 * sun.ambient + 0.4 * sun.direct))
