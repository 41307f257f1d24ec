"""Where a ball meets a net or a wall, and how the net gives way."""

from dataclasses import dataclass

import numpy as np

from .air_path import Piece, follow
from .arrays import Floats
from .brush import Limb
from .scene_spec import SceneSpec, ball_of
from .stops import NET_Y_M

REACH_M, GAP_M = 0.42, 0.12  # of the part of a net that is seen to move
BULGE_M, FULL_MPS = 0.30, 30.0  # how far a ball at that speed pushes it out
SWING_HZ, CALM_S = 1.6, 0.40
HIDDEN_M = np.array([0.0, 0.0, -1000.0])


@dataclass(frozen=True, slots=True, eq=False)
class Impact:
    """A ball in a net or against a wall."""

    time_s: float
    place_m: Floats
    velocity_mps: Floats
    soft: bool  # a net


def impact_of(pieces: list[Piece], spec: SceneSpec, after_s: float) -> Impact | None:
    """The first meeting after ``after_s`` with anything but the ground."""
    radius = ball_of(spec).radius_m
    for piece in pieces:
        if piece.phase != "bounce" or piece.start_s <= after_s:
            continue
        before, place = follow(pieces, np.array([piece.start_s - 2e-3, piece.start_s]))
        if place[2] < 2.0 * radius:
            continue
        soft = spec.venue == "cage" or (spec.net and abs(place[1] - NET_Y_M) < 0.1)
        return Impact(piece.start_s, place, (place - before) / 2e-3, bool(soft))
    return None


def rippling(impact: Impact, time_s: float) -> list[Limb]:
    """Threads round the place that a ball hit, bulging out along its way and swinging back; else out of sight."""
    t = time_s - impact.time_s
    place = impact.place_m if 0.0 < t < 4.0 * CALM_S else impact.place_m + HIDDEN_M
    speed = float(np.linalg.norm(impact.velocity_mps))
    size = BULGE_M * min(speed / FULL_MPS, 1.3) * np.sin(2 * np.pi * SWING_HZ * t) * np.exp(-t / CALM_S)
    axis = int(np.argmax(np.abs(impact.velocity_mps)))
    out = np.zeros(3)
    out[axis] = np.sign(impact.velocity_mps[axis])
    one, two = (np.eye(3)[other] for other in range(3) if other != axis)
    steps = np.arange(-REACH_M, REACH_M + 1e-9, GAP_M)
    grid = [[place + a * one + b * two for b in steps] for a in steps]
    moved = [[p + out * size * np.exp(-float((p - place) @ (p - place)) / 0.05) for p in row] for row in grid]
    black, count = np.full(3, 0.02), len(steps)
    ends = [(moved[i][j], moved[i][j + 1]) for i in range(count) for j in range(count - 1)]
    ends += [(moved[i][j], moved[i + 1][j]) for i in range(count - 1) for j in range(count)]
    return [Limb(a, b, 0.0022, 0.0022, black, 0) for a, b in ends]
