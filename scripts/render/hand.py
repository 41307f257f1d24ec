"""A phone that does not stand still: a hand's wander, and a tripod that someone knocks. Small turns of the camera."""

from dataclasses import replace

import cv2
import numpy as np

from .arrays import Floats, Image
from .optics import Optics, project, rays
from .scene_spec import SceneSpec

SLOW_HZ, QUICK_HZ = 0.5, 8.0  # what a hand's tremor and a body's sway span: common practice, no source
WAVES = 24
ROLL_SHARE = 0.4  # of the shake: that of the picture's corner by roll over that of its middle
GRID_PX = 40


class Hand:
    """How a hand turns the camera over one clip."""

    def __init__(self, spec: SceneSpec, optics: Optics, index: int) -> None:
        rng = np.random.default_rng([spec.seed, 800 + index])
        self.optics = optics
        self.rate = 2 * np.pi * np.exp(rng.uniform(np.log(SLOW_HZ), np.log(QUICK_HZ), (3, WAVES)))
        self.phase = rng.uniform(0, 2 * np.pi, (3, WAVES))
        # The quicker, the smaller: the wander falls as 1/f, as slow drift outweighs tremor.
        strength = 1.0 / self.rate
        pixels = spec.hand_px * optics.size_px[1] / 1080
        corner_px = 0.5 * float(np.hypot(*optics.size_px))
        size = pixels * np.array([1.0, 1.0, ROLL_SHARE]) / [optics.focal_px, optics.focal_px, corner_px]
        # Each axis of the middle gets 1/sqrt 2 of the whole shake.
        power = np.sqrt(0.5 * np.sum(strength**2, axis=1))
        self.strength = strength * (size / np.sqrt(2.0) / power)[:, None]

    def optics_at(self, time_s: float) -> Optics:
        """The camera as the hand holds it at a clip time."""
        turn = np.sum(self.strength * np.sin(self.rate * time_s + self.phase), axis=1)
        return turned(self.optics, turn)


def turned(optics: Optics, turn_rad: Floats) -> Optics:
    """The camera turned about its own axes (right, down, forward)."""
    small, _ = cv2.Rodrigues(np.asarray(turn_rad, np.float64))
    return replace(optics, rotation=small @ optics.rotation)


def knocked(spec: SceneSpec, optics: Optics) -> Optics:
    """The camera after the knock: the middle of the picture moves by ``bump_px``, with a little roll."""
    if spec.bump_px <= 0:
        return optics
    rng = np.random.default_rng([spec.seed, 22])
    pixels = spec.bump_px * optics.size_px[1] / 1080
    way = rng.uniform(0, 2 * np.pi)
    roll = float(rng.uniform(-0.5, 0.5)) * pixels / (0.5 * float(np.hypot(*optics.size_px)))
    tilt = pixels / optics.focal_px
    return turned(optics, np.array([tilt * np.sin(way), tilt * np.cos(way), roll]))


def flow_between(now: Optics, still: Optics) -> tuple[Image, Image]:
    """Where each pixel of the picture ``now`` lies in that of the ``still`` camera: columns and rows, (h, w) each.

    Exact on a grid, lens distortion included; linear between its points, which is within 0.01 px for a few degrees.
    """
    width, height = still.size_px
    columns, rows = -(-width // GRID_PX) + 2, -(-height // GRID_PX) + 2
    u = (np.arange(columns) - 0.5) * GRID_PX - 0.5
    v = (np.arange(rows) - 0.5) * GRID_PX - 0.5
    grid = np.stack(np.meshgrid(u, v), axis=2).reshape(-1, 2)
    found = project(still.position_m + 10.0 * rays(grid, now), still)
    shift = np.nan_to_num(found - grid).reshape(rows, columns, 2).astype(np.float32)
    inside = (slice(GRID_PX, GRID_PX + height), slice(GRID_PX, GRID_PX + width))
    size = (columns * GRID_PX, rows * GRID_PX)
    across, down = (cv2.resize(shift[..., axis].copy(), size)[inside] for axis in (0, 1))
    across += np.arange(width, dtype=np.float32)
    down += np.arange(height, dtype=np.float32)[:, None]
    return np.asarray(across, np.float32), np.asarray(down, np.float32)
