"""Flight of a spinning ball through air, and its bounces, integrated tightly. Models differ on purpose.

Formulas: lift coefficients of Sawicki, Hubbard & Stronge (AJP 71, 2003), Cross, and Nathan's 2016 fit; Nathan's drag
fit Cd = 0.3008 + 0.0292 rpm/1000; S = r w / v.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from .arrays import RPM, Floats

GRAVITY = 9.80665  # standard gravity, 3rd CGPM, 1901
SPIN_DECAY_S = 30.0  # Nathan's 2016 calculator


@dataclass(frozen=True, slots=True)
class Ball:
    """A ball's size and mass."""

    radius_m: float
    mass_kg: float


@dataclass(frozen=True, slots=True)
class Air:
    """Air and how it acts on the ball."""

    density: float  # kg/m³
    wind_mps: tuple[float, float]  # x, y
    drag: str  # constant | spin | crisis
    drag_level: float  # Cd of the constant law, and of the crisis law at low speed
    lift: str  # sawicki | cross | nathan | none


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One smooth piece of a ball's life."""

    start_s: float
    end_s: float
    phase: str  # pitch | flight | bounce | rest
    at: Callable[[Floats], Floats]  # clip times (n,) -> (n, 3)


def drag_coefficient(air: Air, speed: float, spin: float) -> float:
    """Drag coefficient at a speed [m/s] and spin [rad/s]."""
    if air.drag == "spin":
        return 0.3008 + 0.0292 * spin / RPM / 1000.0 + air.drag_level - 0.33
    if air.drag == "crisis":
        return air.drag_level - 0.09 / (1.0 + float(np.exp(-(speed - 33.0) / 3.0)))
    return air.drag_level


def lift_coefficient(law: str, ratio: float) -> float:
    """Lift coefficient at the spin ratio S."""
    if law == "sawicki":
        return 1.5 * ratio if ratio <= 0.1 else 0.09 + 0.6 * ratio
    if law == "cross":
        return 1.0 / (2.32 + 0.4 / ratio) if ratio > 1e-9 else 0.0
    if law == "nathan":
        return 1.12 * ratio / (0.583 + 2.333 * ratio)
    return 0.0


def acceleration(velocity: Floats, spin: Floats, air: Air, ball: Ball) -> Floats:
    """Gravity, drag and Magnus lift. [m/s²]"""
    wind = np.array([*air.wind_mps, 0.0])
    through = velocity - wind
    speed = float(np.linalg.norm(through))
    turn = float(np.linalg.norm(spin))
    force = np.array([0.0, 0.0, -GRAVITY])
    if speed < 1e-9:
        return force
    k = 0.5 * air.density * np.pi * ball.radius_m**2 / ball.mass_kg
    force = force - k * drag_coefficient(air, speed, turn) * speed * through
    if turn > 1e-9:
        sideways = np.cross(spin / turn, through / speed)
        force = force + k * lift_coefficient(air.lift, ball.radius_m * turn / speed) * speed**2 * sideways
    return np.asarray(force)


def fly(start: Floats, velocity: Floats, spin: Floats, air: Air, ball: Ball, limit_s: float = 12.0) -> Any:
    """Integrate from t = 0 until the ball touches the ground, or ``limit_s``; scipy's result with dense output."""

    def rate(t: float, state: Floats) -> Floats:
        return np.concatenate([state[3:], acceleration(state[3:], spin * np.exp(-t / SPIN_DECAY_S), air, ball)])

    def ground(t: float, state: Floats) -> float:
        return float(state[2] - ball.radius_m)

    ground.terminal = True  # type: ignore[attr-defined]
    ground.direction = -1  # type: ignore[attr-defined]
    return solve_ivp(
        rate, (0.0, limit_s), np.concatenate([start, velocity]), method="DOP853", rtol=1e-10, atol=1e-12,
        dense_output=True, events=ground,
    )  # fmt: skip


def rebound(velocity: Floats, spin: Floats, ball: Ball, restitution: float, friction: float) -> tuple[Floats, Floats]:
    """Velocity and spin after a bounce on level ground: sliding friction, at most until the ball rolls."""
    r = ball.radius_m
    slip = velocity[:2] + r * np.array([-spin[1], spin[0]])
    size = float(np.hypot(*slip))
    out = velocity.copy()
    out[2] = -restitution * velocity[2]
    if size < 1e-9:
        return out, spin
    # A solid sphere stops sliding after an impulse of 2/7 of its slip.
    change = min(friction * (1.0 + restitution) * abs(velocity[2]), size * 2.0 / 7.0)
    push = -slip / size * change
    out[:2] += push
    turned = spin + 2.5 / r * np.array([push[1], -push[0], 0.0])
    return out, turned


def roam(
    start: Floats, velocity: Floats, spin: Floats, air: Air, ball: Ball, begin_s: float, end_s: float, phase: str
) -> list[Piece]:
    """Flight, bounces and roll from ``begin_s`` until ``end_s``."""
    pieces: list[Piece] = []
    now, where, speed, turn = begin_s, start, velocity, spin
    for hop in range(12):
        path = fly(where, speed, turn, air, ball)
        stop = now + float(path.t[-1])
        pieces.append(Piece(now, stop, phase if hop == 0 else "bounce", _shifted(path.sol, now)))
        if stop >= end_s:
            return pieces
        now, where = stop, path.y[:3, -1]
        speed, turn = rebound(path.y[3:, -1], turn, ball, 0.42 if hop == 0 else 0.35, 0.35)
        if speed[2] < 0.35:
            break
    pieces.append(_roll(now, where, speed, ball))
    return pieces


def _shifted(path: Callable[[Floats], Floats], begin_s: float) -> Callable[[Floats], Floats]:
    return lambda times: path(np.maximum(times - begin_s, 0.0))[:3].T


def _roll(begin_s: float, where: Floats, velocity: Floats, ball: Ball) -> Piece:
    slow = 0.25 * GRAVITY  # grass and clay slow a rolling ball by about a quarter of g: common practice, no source
    speed = float(np.hypot(velocity[0], velocity[1]))
    way = velocity[:2] / max(speed, 1e-9)

    def at(times: Floats) -> Floats:
        t = np.clip(times - begin_s, 0.0, speed / slow)
        gone = speed * t - 0.5 * slow * t**2
        return np.stack([where[0] + way[0] * gone, where[1] + way[1] * gone, np.full_like(gone, ball.radius_m)], axis=1)

    return Piece(begin_s, np.inf, "bounce", at)


def still(where: Floats, begin_s: float, end_s: float) -> Piece:
    """A ball at rest."""
    return Piece(begin_s, end_s, "rest", lambda times: np.repeat(where[None], len(times), axis=0))


def follow(pieces: list[Piece], times: Floats) -> Floats:
    """Positions (n, 3) along the pieces; before the first and after the last piece, those go on."""
    out = np.empty((len(times), 3))
    starts = np.array([piece.start_s for piece in pieces])
    which = np.clip(np.searchsorted(starts, times, side="right") - 1, 0, len(pieces) - 1)
    for index in np.unique(which):
        out[which == index] = pieces[index].at(times[which == index])
    return out


def phase_at(pieces: list[Piece], time: float) -> str:
    """Name of what the ball does at a time."""
    for piece in reversed(pieces):
        if time >= piece.start_s:
            return piece.phase
    return pieces[0].phase


def aim(start: Floats, goal: Floats, flight_s: float, air: Air, ball: Ball) -> Floats:
    """Velocity that carries a ball without spin from ``start`` to ``goal`` in ``flight_s``."""
    velocity = (goal - start) / flight_s + np.array([0.0, 0.0, 0.5 * GRAVITY * flight_s])
    for _ in range(12):
        miss = goal - fly(start, velocity, np.zeros(3), air, ball, flight_s + 1.0).sol(flight_s)[:3]
        velocity = velocity + miss / flight_s
    return np.asarray(velocity)
