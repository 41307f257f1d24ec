"""A lit ball swept along its path while the shutter is open, laid over a picture in linear light."""

from dataclasses import dataclass

import numpy as np

from detector.stills import Image

GAMMA = 2.2
EDGE_PX = 1.0  # over which a pixel averages the outline


@dataclass(frozen=True, slots=True, eq=False)
class Ball:
    """A sphere with a matt skin in sun and skylight."""

    diameter_px: float
    albedo: float  # of linear light
    light: tuple[float, float, float]  # unit vector toward the sun: right, down, toward the eye
    ambient: float  # share of light from the whole sky
    gloss: float  # of a highlight
    seam: float  # darkness of a seam's arc
    seam_turn: float


def lay_ball(picture: Image, ball: Ball, ends_px: tuple[tuple[float, float], tuple[float, float]]) -> Image:
    """Lay the ball over a picture of linear light (h, w), in place; returns its cover (h, w), a share of the exposure.

    ``ends_px`` are its places when the shutter opens and closes.
    """
    height, width = picture.shape
    first, last = np.array(ends_px[0]), np.array(ends_px[1])
    radius = ball.diameter_px / 2
    count = int(np.clip(np.ceil(1.5 * np.hypot(*(last - first))) + 1, 1, 64))
    cover_all = np.zeros_like(picture)
    light_all = np.zeros_like(picture)
    for share in (np.arange(count) + 0.5) / count:
        u, v = first + share * (last - first)
        left, right = int(max(np.floor(u - radius - 2), 0)), int(min(np.ceil(u + radius + 3), width))
        top, bottom = int(max(np.floor(v - radius - 2), 0)), int(min(np.ceil(v + radius + 3), height))
        if right <= left or bottom <= top:
            continue
        x = (np.arange(left, right, dtype=np.float32) - np.float32(u)) / np.float32(radius)
        y = (np.arange(top, bottom, dtype=np.float32) - np.float32(v))[:, None] / np.float32(radius)
        distance = np.sqrt(x * x + y * y)
        cover = np.clip((1 - distance) * np.float32(radius / EDGE_PX) + 0.5, 0, 1)
        z = np.sqrt(np.maximum(1 - x * x - y * y, 0))
        lit = np.maximum(x * ball.light[0] + y * ball.light[1] + z * ball.light[2], 0)
        shade = ball.albedo * (ball.ambient * (0.75 - 0.25 * y) + (1 - ball.ambient) * lit) + ball.gloss * lit**24
        if ball.seam > 0:
            along = x * np.cos(ball.seam_turn) + y * np.sin(ball.seam_turn)
            across = y * np.cos(ball.seam_turn) - x * np.sin(ball.seam_turn)
            shade = shade * (1 - ball.seam * (np.abs(along - 0.6 + 0.5 * across * across) < 1.0 / radius))
        cover_all[top:bottom, left:right] += cover / count
        light_all[top:bottom, left:right] += cover * shade / count
    picture *= 1 - cover_all
    picture += light_all
    return cover_all


def linear(codes: Image) -> Image:
    """Light behind stored values of 0 to 255."""
    return np.asarray((np.clip(codes, 0, 255) / 255) ** GAMMA, np.float32)


def stored(light: Image) -> Image:
    """Stored values of 0 to 255 for light."""
    return np.asarray(255 * np.clip(light, 0, 1) ** (1 / GAMMA), np.float32)
