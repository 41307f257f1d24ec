"""A lesson of any length, invented: each ball flown through the lesson's own air, so that its numbers agree."""

from dataclasses import replace
from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np

from balltrack.field import PLATE_DEPTH_M, PLATE_HALF_M
from balltrack.flight.forces import LIFT_UP_PRIOR, air_factor
from balltrack.flight.path import Launch, Medium, fly_to_ground
from balltrack.lesson import Lesson
from balltrack.records.describe import field_side, flight_kind
from balltrack.records.swing import Swing
from tests.records.swings import LOST, MISS

CLIPS = ("01-tee/001.mp4", "02-toss/001.mp4", "03-live/001.mp4")  # the blocks of an invented lesson
LATEST_BLOCK_IS_SLOWER_MPS = 2.5


def invented_swings(lesson: Lesson, count: int, seed: int = 7) -> tuple[Swing, ...]:
    """``count`` swings in equal blocks; in every thirteen one miss and one that could not be measured."""
    rng = np.random.default_rng(seed)
    blocks = [block.name for block in lesson.blocks]
    made = []
    for i in range(count):
        block = min(i * len(blocks) // count, len(blocks) - 1)
        name, clip = f"{blocks[block]}/{i + 1:03d}#1", f"clips/{blocks[block]}/{i + 1:03d}.mp4"
        like = MISS if i % 13 == 9 else LOST if i % 13 == 11 else _hit(lesson, rng, block)
        made.append(replace(like, swing=name, clip=clip, block=blocks[block]))
    return tuple(made)


def _hit(lesson: Lesson, rng: np.random.Generator, block: int) -> Swing:
    opposite = 1.0 if lesson.player.bats == "right" else -1.0
    spread_m = np.array([0.09, 0.05 + 0.05 * block, 0.11])
    contact_m = np.array([0.0, PLATE_DEPTH_M, 0.75]) + spread_m * rng.standard_normal(3)
    contact_m[0] = np.clip(contact_m[0], -PLATE_HALF_M, PLATE_HALF_M)
    speed_mps = 34.0 - LATEST_BLOCK_IS_SLOWER_MPS * block / 2 + 3.2 * rng.standard_normal()
    launch_rad = radians(16.0 + 12.0 * rng.standard_normal())
    # Further ahead is further pulled: 10 cm for some 12 degrees (invented).
    spray_rad = opposite * radians(-120.0 * (contact_m[1] - PLATE_DEPTH_M) + 13.0 * rng.standard_normal())
    return _flown(lesson, rng, (contact_m, speed_mps, launch_rad, spray_rad))


def _flown(lesson: Lesson, rng: np.random.Generator, hit: tuple[np.ndarray, float, float, float]) -> Swing:
    contact_m, speed_mps, launch_rad, spray_rad = hit
    level = cos(launch_rad)
    velocity_mps = speed_mps * np.array([level * sin(spray_rad), level * cos(spray_rad), sin(launch_rad)])
    lift = LIFT_UP_PRIOR.mean + 0.5 * LIFT_UP_PRIOR.sd * rng.standard_normal()
    ball, radius_m = lesson.ball, lesson.ball.diameter_m / 2
    medium = Medium(air_factor(lesson.air.density_kg_m3, ball.diameter_m, ball.mass_kg), np.zeros(3))
    launch = Launch(contact_m, velocity_mps, ball.drag, lift, 0.06 * rng.standard_normal())
    path = fly_to_ground(launch, medium, radius_m)
    hang_s = path.descent_s(radius_m)
    x, y, _ = (float(value) for value in path.at(hang_s[:, None])[0, 0])
    carry_m, way_rad = hypot(x, y), atan2(x, y)
    along_m, across_m = 0.01 + 0.035 * carry_m, 0.01 + 0.015 * carry_m
    turn = np.array([[sin(way_rad), cos(way_rad)], [cos(way_rad), -sin(way_rad)]])
    cov = turn.T @ np.diag([along_m**2, across_m**2]) @ turn
    quality = rng.choice(["good", "good", "good", "fair", "fair", "poor"])
    speed_sd_mps = {"good": 0.4, "fair": 0.9, "poor": 1.6}[quality]
    tops_m = path.position_m[0, :, 2]
    clear = 0.0 if lesson.fence is None else float(carry_m > float(lesson.fence.distance_m(way_rad)) + 3.0)
    return replace(
        MISS,
        outcome="measured",
        contact_s=0.5,
        exit_speed_mps=float(speed_mps),
        exit_speed_sd_mps=speed_sd_mps,
        launch_deg=degrees(launch_rad),
        launch_sd_deg=0.5,
        spray_deg=degrees(spray_rad),
        spray_sd_deg=0.5,
        contact_m=(float(contact_m[0]), float(contact_m[1]), float(contact_m[2])),
        contact_sd_m=(0.03, 0.04, 0.01),
        contact_depth_m=float(contact_m[1]) - PLATE_DEPTH_M,
        carry_m=carry_m,
        carry_sd_m=along_m,
        landing_m=(x, y),
        landing_cov_m2=((float(cov[0, 0]), float(cov[0, 1])), (float(cov[1, 0]), float(cov[1, 1]))),
        hang_s=float(hang_s[0]),
        apex_m=float(tops_m.max()),
        tail_m=0.0,
        tail_sd_m=1.0,
        fence_clear_probability=clear,
        field_side=field_side(degrees(spray_rad), lesson.player.bats),
        flight=flight_kind(degrees(launch_rad)),
        frames_used=20,
        residual_px=0.4,
        quality=quality,
    )
