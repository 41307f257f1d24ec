"""Small clips composed of anything: a ball that flies over photographs, textures and crowds of look-alikes."""

from dataclasses import dataclass

import cv2
import numpy as np

from balltrack.detect.triple import SIDE_PX
from balltrack.training.example import streak_box
from detector.ball import Ball, lay_ball, linear, stored
from detector.compress import compressed
from detector.movers import Mover, draw_movers, lay_movers, lay_standing, veil
from detector.patch import Patch
from detector.stills import Bytes, Image, Stills, background, playing

FRAME_PX, MARGIN_PX, FRAMES = 160, 32, 7
MIDDLES = (2, 4)  # frames whose neighbours are kept
LEAST_MOVE_PX = 0.6  # from frame to frame: what moves less cannot be told from what rests
LEAST_CONTRAST, LEAST_CONTRAST_PX = 4.0, 24.0  # codes, and codes times diameter: compression leaves nothing of less
LEAST_SIGNAL = 6.0  # contrast times diameter over the noise
LEAST_VISIBLE, HIDDEN_VISIBLE = 0.6, 0.05  # between these a ball is neither shown nor hidden: the frame is left out
MOST_CUT = 0.3  # of a ball's box beyond the patch


@dataclass(frozen=True, slots=True, eq=False)
class _Flight:
    ball: Ball
    middle_px: np.ndarray  # (2,) at the middle of frame 3's exposure
    step_px: np.ndarray  # (2,) a frame
    growth: float  # of the diameter, a frame
    exposure: float  # share of the frame's time

    def ends(self, frame: float) -> tuple[np.ndarray, np.ndarray]:
        """Places when the shutter opens and closes."""
        middle = self.middle_px + (frame - 3) * self.step_px
        return middle - 0.5 * self.exposure * self.step_px, middle + 0.5 * self.exposure * self.step_px


@dataclass(frozen=True, slots=True, eq=False)
class _Shown:
    """The ball in one frame."""

    centre_px: np.ndarray
    diameter_px: float
    visible: float
    contrast: float
    clear: bool  # of noise and compression


def compose(rng: np.random.Generator, stills: Stills) -> list[Patch]:
    """The patches of one small clip, with or without a ball; none where it cannot be told whether one is seen."""
    flight = _flight(rng) if rng.random() < 0.62 else None
    frames, shown = _film(rng, stills, flight)
    codec = "libx265" if rng.random() < 0.15 else "libx264"
    preset = str(rng.choice(["ultrafast", "veryfast", "medium"]))
    stored_frames = compressed(frames, codec, int(rng.integers(17, 34)), preset)
    if len(stored_frames) != FRAMES:
        return []
    out = []
    for middle in MIDDLES:
        patch = _cut(rng, stored_frames[middle - 1 : middle + 2], shown[middle], flight)
        out += [] if patch is None else [patch]
    return out


def _flight(rng: np.random.Generator) -> _Flight:
    low, high = (3.2, 12.0) if rng.random() < 0.7 else (12.0, 44.0)
    diameter = float(np.exp(rng.uniform(np.log(low), np.log(high))))
    way = rng.uniform(0, 2 * np.pi)
    step = float(np.exp(rng.uniform(np.log(0.8), np.log(7 * diameter + 10))))
    exposure = float(np.exp(rng.uniform(np.log(0.02), np.log(1.0))))
    exposure = min(exposure, 80.0 / step)
    light = rng.normal(0, 1, 3)
    light[1] = -abs(light[1])  # from above
    light /= np.linalg.norm(light)
    ambient = float(rng.uniform(0.15, 1.0))
    ball = Ball(
        diameter, float(rng.uniform(0.05, 0.95) if rng.random() < 0.4 else rng.uniform(0.4, 0.95)),
        (float(light[0]), float(light[1]), float(light[2])), ambient,
        float(rng.uniform(0, 0.5) if rng.random() < 0.2 else 0.0), float(rng.uniform(0, 0.6)), float(rng.uniform(0, 6)),
    )  # fmt: skip
    middle = rng.uniform(0.3, 0.7, 2) * FRAME_PX
    return _Flight(ball, middle, step * np.array([np.cos(way), np.sin(way)]), float(rng.normal(0, 0.02)), exposure)


def _film(rng: np.random.Generator, stills: Stills, flight: _Flight | None) -> tuple[Bytes, list[_Shown | None]]:
    """Seven frames (7, side, side), and the ball in each."""
    big = FRAME_PX + 2 * MARGIN_PX
    moving = playing(rng, stills, big, FRAMES) if rng.random() < 0.1 else None
    still = linear(background(rng, stills, big))
    threads, threads_before = veil(rng, big), rng.random() < 0.7
    lay_standing(rng, still, flight.ball.albedo if flight else float(rng.uniform(0.3, 0.9)))
    movers = draw_movers(rng, FRAME_PX)
    shake, steady = (rng.exponential(0.7) if rng.random() < 0.3 else 0.0), rng.random() < 0.1
    drift = rng.normal(0, 4, 2) if steady else np.zeros(2)
    noise, lens = float(rng.exponential(2.0)), float(rng.uniform(0.3, 1.1))
    flicker = float(rng.choice([0.0, 0.0, 0.015]))
    frames, shown = np.empty((FRAMES, FRAME_PX, FRAME_PX), np.uint8), []
    for k in range(FRAMES):
        offset = np.clip(drift * (k - 3) + rng.normal(0, 1, 2) * shake, -MARGIN_PX + 2, MARGIN_PX - 2)
        picture = _shifted(still if moving is None else linear(moving[k]), offset)
        if threads is not None and not threads_before:
            _lay_threads(picture, threads, offset)
        exposure = flight.exposure if flight else 0.3
        lay_movers(picture, [mover for mover in movers if not mover.in_front], k - 3, exposure)
        seen = None
        if flight is not None:
            seen = _lay_flight(picture, flight, k, [mover for mover in movers if mover.in_front], noise)
        else:
            lay_movers(picture, [mover for mover in movers if mover.in_front], k - 3, exposure)
        if threads is not None and threads_before:
            _lay_threads(picture, threads, offset)
        codes = stored(cv2.GaussianBlur(picture, (0, 0), lens) * (1 + rng.normal(0, 1) * flicker))
        noisy = codes + rng.normal(0, 1, codes.shape) * noise
        frames[k] = np.clip(np.rint(16 + noisy * 219 / 255), 0, 255)
        shown.append(seen)
    return frames, shown


def _shifted(image: Image, offset: np.ndarray) -> Image:
    """The middle of a larger picture as a camera sees it that has turned by ``offset`` pixels."""
    matrix = np.array([[1, 0, -MARGIN_PX + offset[0]], [0, 1, -MARGIN_PX + offset[1]]], np.float64)
    return np.asarray(cv2.warpAffine(image, matrix, (FRAME_PX, FRAME_PX), flags=cv2.INTER_LINEAR), np.float32)


def _lay_threads(picture: Image, threads: tuple[Image, float], offset: np.ndarray) -> None:
    cover = _shifted(threads[0], offset)
    picture *= 1 - cover
    picture += cover * np.float32(threads[1])


def _lay_flight(picture: Image, flight: _Flight, frame: int, in_front: list[Mover], noise: float) -> _Shown:
    """Lay the ball, then what is before it."""
    diameter = flight.ball.diameter_px * (1 + flight.growth * (frame - 3))
    ball = Ball(
        diameter, flight.ball.albedo, flight.ball.light, flight.ball.ambient, flight.ball.gloss, flight.ball.seam,
        flight.ball.seam_turn + 0.8 * frame,
    )  # fmt: skip
    first, last = flight.ends(frame)
    before = stored(picture)
    cover = lay_ball(picture, ball, ((float(first[0]), float(first[1])), (float(last[0]), float(last[1]))))
    total = max(float(cover.sum()), 1e-6)
    contrast = float((cover * np.abs(stored(picture) - before)).sum() / total)
    hidden = lay_movers(picture, in_front, frame - 3, flight.exposure)
    whole = np.pi * diameter**2 / 4
    visible = float((cover * (1 - hidden)).sum()) / whole
    clear = told_apart(contrast, diameter) and contrast * diameter > LEAST_SIGNAL * noise
    return _Shown(0.5 * (first + last), diameter, visible, contrast, clear)


def told_apart(contrast: float, diameter_px: float) -> bool:
    """Whether compression leaves something of a ball that changes what is behind it by so many codes."""
    return contrast > LEAST_CONTRAST + LEAST_CONTRAST_PX / diameter_px


def _cut(rng: np.random.Generator, frames: Bytes, shown: _Shown | None, flight: _Flight | None) -> Patch | None:
    corner = rng.integers(0, FRAME_PX - SIDE_PX + 1, 2)
    part = frames[:, corner[1] : corner[1] + SIDE_PX, corner[0] : corner[0] + SIDE_PX]
    nothing = Patch(part, np.zeros((0, 4)), 0.0, 0.0, 0.0, "composite")
    if shown is None or flight is None or shown.visible < HIDDEN_VISIBLE:
        return nothing
    box = streak_box(shown.centre_px - corner, shown.diameter_px, flight.exposure * flight.step_px)
    inside = np.clip(box, 0, SIDE_PX)
    area, left = np.prod(box[2:] - box[:2]), np.prod(np.maximum(inside[2:] - inside[:2], 0))
    if left <= 0:
        return nothing
    move = float(np.hypot(*flight.step_px))
    if left < (1 - MOST_CUT) * area or move < LEAST_MOVE_PX or not shown.clear:
        return None
    if shown.visible < LEAST_VISIBLE * left / area:
        return None
    return Patch(part, inside[None], shown.diameter_px, flight.exposure * move, shown.contrast, "composite")
