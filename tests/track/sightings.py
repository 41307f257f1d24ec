"""Candidates of balls flown by scipy and projected by OpenCV, among the things that also move on a field."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from balltrack.air import Air
from balltrack.camera.model import Camera
from balltrack.detect.candidates import Candidates
from balltrack.field import Ball
from balltrack.flight.evidence import Setting
from balltrack.flight.guesses import usual_flight
from balltrack.track.arcs import View
from balltrack.units import Floats
from tests.flight.simulated import (
    BALL_DIAMETER_M,
    BALL_MASS_KG,
    DENSITY,
    FOCAL_PX,
    HEIGHT,
    SET_UPS,
    WIDTH,
    see,
    true_camera,
)

START_S, END_S = 0.65, 2.2  # of the window that is searched; contact comes near 1 s
READOUT_S = 0.012
YELLOW, DULL = (190.0, 80.0, 140.0), (110.0, 125.0, 130.0)  # luma, cb, cr

Place = Callable[[float], Floats]
"""Clip time [s] -> (3,) place in the field [m]."""


@dataclass(frozen=True)
class Mover:
    """A thing that moves, seen as one candidate a frame."""

    place: Place
    size_m: float
    colour: tuple[float, float, float] = DULL
    from_s: float = START_S
    until_s: float = END_S
    seen_share: float = 0.85  # of the frames in which it becomes a candidate
    size_spread: float = 0.15  # of the log of its width


@dataclass(frozen=True, eq=False)
class Filmed:
    """A place to film from."""

    camera: Floats  # (11,)
    view: View


def filmed_from(name: str) -> Filmed:
    """One of the simulated set-ups, with the package's own view of it."""
    camera = true_camera(SET_UPS[name], READOUT_S)
    model = Camera(camera, np.eye(11) * 1e-10, (WIDTH, HEIGHT))
    ball = Ball(BALL_DIAMETER_M, diameter_sd_m=0.0006, mass_kg=BALL_MASS_KG, mass_sd_kg=0.004, drag=0.32, drag_sd=0.04)
    setting = Setting(model, ball, Air(density_kg_m3=DENSITY, temperature_c=20.0, wind_mps=(0.0, 0.0)))
    return Filmed(camera, View(model, BALL_DIAMETER_M, usual_flight(setting)))


def seen_at(place: Place, frame_s: float, camera: Floats) -> tuple[Floats, float]:
    """Pixel (2,) of a thing in the frame of a time, its row's own time considered, and pixels per metre there."""
    row = HEIGHT / 2
    pixel = np.full(2, np.nan)
    for _ in range(4):
        pixel = see(place(frame_s + READOUT_S * row / HEIGHT)[None], camera)[0]
        if not np.isfinite(pixel).all():
            break
        row = float(pixel[1])
    return pixel, FOCAL_PX / float(np.linalg.norm(place(frame_s) - camera[3:6]))


def film(movers: list[Mover], filmed: Filmed, fps: float, seed: int, until_s: float = END_S) -> list[Candidates]:
    """Candidates of every frame: the movers, chance ones everywhere, and a swaying tree."""
    rng = np.random.default_rng(seed)
    return [_frame(float(t), movers, filmed, rng) for t in np.arange(START_S, until_s, 1 / fps)]


def _frame(frame_s: float, movers: list[Mover], filmed: Filmed, rng: np.random.Generator) -> Candidates:
    chance, leaves = rng.poisson(20), rng.poisson(12)
    centres = [rng.uniform((0, 0), (WIDTH, HEIGHT), (chance, 2)), rng.uniform((200, 100), (600, 400), (leaves, 2))]
    widths = [np.exp(rng.uniform(np.log(2), np.log(40), chance)), np.exp(rng.uniform(np.log(2), np.log(8), leaves))]
    colours = [np.tile(DULL, (chance + leaves, 1))]
    for mover in movers:
        if not mover.from_s <= frame_s < mover.until_s or rng.random() > mover.seen_share:
            continue
        pixel, scale = seen_at(mover.place, frame_s, filmed.camera)
        width = scale * mover.size_m
        if np.isfinite(pixel).all() and width > 2.5:
            centres.append((pixel + rng.normal(0, 0.5 + 0.04 * width, 2))[None])
            widths.append(np.array([width * np.exp(rng.normal(0.05, mover.size_spread))]))
            colours.append(np.array([mover.colour]))
    width_px = np.concatenate(widths)
    count = len(width_px)
    colour = np.concatenate(colours) + rng.normal(0, 6, (count, 3))
    axis = np.tile([1.0, 0.0], (count, 1))
    contrast, likeness = np.full(count, 3.0), np.full(count, np.nan)
    return Candidates(frame_s, np.concatenate(centres), width_px, 1.2 * width_px, axis, colour, contrast, likeness)
