"""What else stands or moves in a picture: limbs, bats, heads, lights, lines, nets, birds, shadows, resting balls."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from detector.stills import Image

SHIFT = 4  # OpenCV's drawing takes fractions of 1/16 px
STEPS = 4  # moments of an exposure in which a mover is drawn


@dataclass(frozen=True, slots=True, eq=False)
class Mover:
    """A shape of even or grained light that moves and turns."""

    kind: str  # capsule | ellipse | bird | shadow
    centre_px: np.ndarray  # (2,) at time 0
    velocity_px: np.ndarray  # (2,) a frame
    turn_rad: float
    spin_rad: float  # a frame
    size_px: tuple[float, float]  # length, width
    light: float  # linear; of a shadow, how much is left
    in_front: bool  # of the ball


def draw_movers(rng: np.random.Generator, side_px: int) -> list[Mover]:
    """None to five movers of a scene."""
    count = int(rng.choice([0, 1, 2, 3, 5], p=[0.25, 0.25, 0.25, 0.15, 0.1]))
    return [_mover(rng, side_px) for _ in range(count)]


def _mover(rng: np.random.Generator, side_px: int) -> Mover:
    kind = str(rng.choice(["capsule", "ellipse", "bird", "shadow"], p=[0.45, 0.3, 0.1, 0.15]))
    width = float(np.exp(rng.uniform(np.log(3), np.log(40))))
    length = width * float(rng.uniform(3, 12) if kind == "capsule" else rng.uniform(1.0, 2.2))
    if kind == "bird":
        width, length = float(rng.uniform(1.5, 5)), float(rng.uniform(4, 16))
    way = rng.uniform(0, 2 * np.pi)
    speed = float(rng.exponential(3.0)) if rng.random() < 0.8 else float(rng.uniform(5, 30))
    return Mover(
        kind, rng.uniform(-0.1, 1.1, 2) * side_px, speed * np.array([np.cos(way), np.sin(way)]),
        float(rng.uniform(0, np.pi)), float(rng.normal(0, 0.12)), (length, width),
        float(rng.uniform(0.4, 0.85) if kind == "shadow" else rng.random() ** 2), bool(rng.random() < 0.25),
    )  # fmt: skip


def lay_movers(picture: Image, movers: Sequence[Mover], time: float, exposure: float) -> Image:
    """Lay movers over a picture of linear light, in place; returns their joint cover (h, w). Times in frames."""
    joint = np.zeros_like(picture)
    for mover in movers:
        times = [time + exposure * (k + 0.5) / STEPS for k in range(STEPS)]
        cover = np.mean([_mask(picture.shape, mover, each) for each in times], axis=0)
        if mover.kind == "shadow":
            picture *= 1 - cover * (1 - mover.light)
            continue
        picture *= 1 - cover
        picture += cover * np.float32(mover.light)
        joint = np.maximum(joint, cover)
    return np.asarray(joint, np.float32)


def _mask(shape: tuple[int, ...], mover: Mover, time: float) -> Image:
    mask = np.zeros(shape, np.uint8)
    centre = mover.centre_px + mover.velocity_px * time
    turn = mover.turn_rad + mover.spin_rad * time
    length, width = mover.size_px
    along = np.array([np.cos(turn), np.sin(turn)])
    if mover.kind == "bird":
        beside = np.array([-along[1], along[0]]) * length * 0.5 * np.sin(2.2 * time + mover.turn_rad)
        for way in (-1, 1):
            _line(mask, centre, centre + way * along * length / 2 + beside, width)
    elif mover.kind == "capsule":
        _line(mask, centre - along * length / 2, centre + along * length / 2, width)
    else:
        place = _fixed(centre)
        axes = _fixed(np.array([length / 2, width / 2]))
        cv2.ellipse(mask, place, axes, float(np.degrees(turn)), 0, 360, 255, -1, cv2.LINE_AA, SHIFT)
    full: Image = np.asarray(mask.astype(np.float32) / 255, np.float32)
    if mover.kind == "shadow":
        return np.asarray(cv2.GaussianBlur(full, (0, 0), 0.12 * width + 0.5), np.float32)
    return full


def _line(mask: np.ndarray, start: np.ndarray, stop: np.ndarray, width: float) -> None:
    cv2.line(mask, _fixed(start), _fixed(stop), 255, max(round(width), 1), cv2.LINE_AA, SHIFT)


def _fixed(point: np.ndarray) -> tuple[int, int]:
    u, v = np.clip(point * 2**SHIFT, -30000, 30000).round().astype(int).tolist()
    return u, v


def lay_standing(rng: np.random.Generator, picture: Image, resting_albedo: float) -> None:
    """Add what only looks like a ball: lamps, chalk, print, resting balls, holes of light; in place, linear light."""
    side = picture.shape[0]
    for _ in range(int(rng.choice([0, 1, 3, 6], p=[0.35, 0.3, 0.25, 0.1]))):
        mask = np.zeros(picture.shape, np.uint8)
        kind = rng.choice(["disc", "line", "text"], p=[0.6, 0.2, 0.2])
        place = rng.uniform(0, side, 2)
        size = float(np.exp(rng.uniform(np.log(1.5), np.log(16))))
        if kind == "disc":
            axes = _fixed(np.array([size, size * rng.uniform(0.7, 1.0)]))
            cv2.ellipse(mask, _fixed(place), axes, float(rng.uniform(0, 180)), 0, 360, 255, -1, cv2.LINE_AA, SHIFT)
        elif kind == "line":
            _line(mask, place, rng.uniform(0, side, 2), rng.uniform(1, 5))
        else:
            letters = "".join(chr(c) for c in rng.integers(48, 90, 4))
            font, scale = cv2.FONT_HERSHEY_DUPLEX, float(rng.uniform(0.3, 1.2))
            cv2.putText(mask, letters, (int(place[0]), int(place[1])), font, scale, 255, 1, cv2.LINE_AA)
        cover = mask.astype(np.float32) / 255
        light = resting_albedo * float(rng.uniform(0.5, 1.1)) if rng.random() < 0.5 else float(rng.random())
        picture *= 1 - cover
        picture += cover * np.float32(light)


def veil(rng: np.random.Generator, side_px: int) -> tuple[Image, float] | None:
    """Threads before the lens or behind the ball: their cover (side, side) and light; or none."""
    if rng.random() < 0.75:
        return None
    mask = np.zeros((side_px, side_px), np.uint8)
    mesh, width = float(np.exp(rng.uniform(np.log(6), np.log(70)))), float(rng.uniform(1, 3.5))
    for turn in (rng.uniform(0, np.pi / 2) + np.array([0, np.pi / 2])) + rng.normal(0, 0.1, 2):
        along = np.array([np.cos(turn), np.sin(turn)])
        beside = np.array([-along[1], along[0]])
        for k in range(int(-side_px / mesh) - 1, int(side_px / mesh) + 2):
            middle = side_px / 2 + beside * mesh * (k + rng.uniform(0, 0.08))
            _line(mask, middle - along * side_px, middle + along * side_px, width)
    cover = cv2.GaussianBlur(mask.astype(np.float32) / 255, (0, 0), float(rng.uniform(0.3, 2.0)))
    return np.asarray(cover * np.float32(rng.uniform(0.3, 1.0)), np.float32), float(rng.random() ** 2)
