"""Scenes to plan for, with few hits: what is tested holds for any number."""

from dataclasses import replace

import numpy as np

from balltrack.field import Fence, ball_of_kind
from balltrack.planning.hits import Expected, Side
from balltrack.planning.phone import Phone
from balltrack.planning.scene import Ground, Scene, scene_of
from balltrack.units import M_PER_FT, Floats

CALIBRATED = Phone(lens_share_sd=0.003)
BEHIND_M = np.array([0.0, -5.5, 1.5])


def scene(phone: Phone = CALIBRATED, bats: Side = "right", fence_m: float | None = None, hits: int = 5) -> Scene:
    fence = None if fence_m is None else Fence((fence_m,), height_m=2.0)
    ground = Ground(ball_of_kind("softball-12"), 65 * M_PER_FT, fence)
    return scene_of(phone, ground, replace(Expected(), bats=bats), hits)


def mirrored(place_m: Floats) -> Floats:
    return np.asarray(place_m * [-1.0, 1.0, 1.0])
