"""One clip's story: the delivery, the swing, the contact, and the ball's whole way; with its truth."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .air_path import Air, Piece, aim, fly, follow, phase_at, roam, still
from .arrays import FT, IN, MPH, RPM, Floats
from .figure import Swing
from .graze import graze
from .scene_spec import SceneSpec, ball_of, diamond_of
from .stops import caught, stopped

PLATE_M = 17.0 * IN
DELIVERIES = ("tee", "toss", "live")
OUTCOMES = ("hit", "miss", "foul_tip", "checked")
RETURN_S = 1.3  # a batter steps back into the stance


@dataclass(frozen=True, slots=True, eq=False)
class Play:
    """One swing and the ball's way. Times in seconds of the clip, or of this swing's part of it."""

    delivery: str
    outcome: str  # hit | miss | foul_tip | checked
    contact_s: float
    length_s: float
    contact_m: Floats
    velocity: Floats
    spin: Floats
    pieces: list[Piece]
    swing: Swing
    release_s: float
    release_m: Floats
    tee_m: Floats  # (3,) top of the tee, under the ball
    carry_m: float
    landing_m: Floats
    hang_s: float
    apex_m: float
    tail_m: float
    start_s: float = 0.0  # of the clip's time, where a clip holds several; all other times count from it
    next_swing: Swing | None = None
    mitt_m: Floats | None = None  # where a catcher takes the ball

    @property
    def hit(self) -> bool:
        """Whether the bat drives the ball."""
        return self.outcome == "hit"

    def ball(self, times: Floats) -> Floats:
        """Ball positions (n, 3)."""
        return follow(self.pieces, times)

    def phase(self, time_s: float) -> str:
        """What the ball does."""
        return phase_at(self.pieces, time_s)

    def spin_at(self, time_s: float) -> Floats:
        """Spin used for the ball's looks. [rad/s]"""
        if self.phase(time_s) == "rest":
            return np.array([0.3, 0.2, 0.4])
        return self.spin if time_s >= self.contact_s else np.array([6.0, 2.0, 1.0])


def air_of(spec: SceneSpec) -> Air:
    """The lesson's air and the ball's laws in it."""
    return Air(spec.air_density, spec.wind_mps, spec.drag, spec.drag_level, spec.lift)


def tee_place(spec: SceneSpec) -> Floats:
    """Foot of the lesson's tee."""
    rng = np.random.default_rng([spec.seed, 9])
    return np.array([rng.normal(0.0, 0.05), PLATE_M + spec.tee_forward_m, 0.0])


def plan(spec: SceneSpec, delivery: str, index: int, outcome: str) -> Play:
    """Draw the swing number ``index`` of a lesson.

    Raises
    ------
    ValueError
        If there is no such outcome.
    """
    if outcome not in OUTCOMES:
        raise ValueError(f"no such outcome: {outcome!r}; there are {', '.join(OUTCOMES)}")
    hit = outcome == "hit"
    rng = np.random.default_rng([spec.seed, 100 + index])
    contact_s = float(rng.uniform(0.7, 1.0)) * spec.lead_s
    where = _contact_point(rng, spec, delivery)
    velocity, spin = _hit_ball(rng, spec, delivery)
    air, ball = air_of(spec), ball_of(spec)
    full = fly(where, velocity, spin, air, ball, 15.0)
    release_s, release_m, coming, into = _delivery(rng, spec, delivery, where, contact_s)
    length = contact_s + float(rng.uniform(0.8, 1.0)) * spec.tail_s
    beside, after, mitt = 0.0, list[Piece](), None
    if outcome == "foul_tip":
        rub = np.random.default_rng([spec.seed, 44, index])
        tipped, turned, beside = graze(rub, into)
        after = stopped(roam(where, tipped, turned, air, ball, contact_s, length + 1.0, "tip"), spec, rub)
    elif hit:
        after = stopped(roam(where, velocity, spin, air, ball, contact_s, length + 1.0, "flight"), spec, rng)
    elif delivery == "tee":
        coming = [still(where, 0.0, np.inf)]
    else:
        after = stopped(roam(where, into, np.zeros(3), air, ball, contact_s, length + 1.0, "pitch"), spec, rng)
    if spec.catcher and delivery == "live" and not hit:
        after, mitt = caught(after, contact_s)
    if outcome == "miss":
        beside = float(rng.choice([-1, 1])) * float(rng.uniform(0.13, 0.2))
    spray = float(np.arctan2(velocity[0], velocity[1]))
    swing = Swing(
        contact_s, where + np.array([0.0, 0.0, beside]), float(np.clip(spray, -0.8, 0.8)), spec.bats == "right",
        float(rng.normal(0, 0.5)), outcome == "checked",
    )  # fmt: skip
    land = full.y[:3, -1]
    right = np.array([np.cos(spray), -np.sin(spray)])
    return Play(
        delivery, outcome, contact_s, length, where, velocity, spin, [*coming, *after], swing, release_s, release_m,
        where - np.array([0, 0, ball.radius_m]), float(np.hypot(*land[:2])), land[:2], float(full.t[-1]),
        _apex(full), float((land[:2] - where[:2]) @ right), mitt_m=mitt,
    )  # fmt: skip


def chain(spec: SceneSpec, delivery: str, index: int, outcomes: tuple[str, ...]) -> list[Play]:
    """Swings one after another in one clip; without any, the batter waits."""
    plays = [plan(spec, delivery, index + 1000 * number, outcome) for number, outcome in enumerate(outcomes)]
    if not plays:
        return [_idle(spec, delivery, index)]
    out, start = [], 0.0
    for number, play in enumerate(plays):
        last = number + 1 == len(plays)
        length = play.length_s + (0.0 if last else RETURN_S)
        out.append(replace(play, start_s=start, length_s=length, next_swing=None if last else plays[number + 1].swing))
        start += length
    return out


def _idle(spec: SceneSpec, delivery: str, index: int) -> Play:
    never = 1e3
    play = plan(spec, delivery, index, "miss")
    away = play.contact_m if delivery == "tee" else np.array([0.0, -60.0, 0.1])
    swing, pieces = replace(play.swing, contact_s=never), [still(away, 0.0, np.inf)]
    return replace(
        play, contact_s=never, swing=swing, release_s=never, pieces=pieces, length_s=spec.tail_s + 1.0, mitt_m=None
    )


def _apex(path: Any) -> float:
    times = np.linspace(0.0, path.t[-1], 4001)
    heights = path.sol(times)[2]
    top = int(np.argmax(heights))
    if 0 < top < len(times) - 1:
        near = np.linspace(times[top - 1], times[top + 1], 2001)
        return float(path.sol(near)[2].max())
    return float(heights[top])


def _contact_point(rng: np.random.Generator, spec: SceneSpec, delivery: str) -> Floats:
    if delivery == "tee":
        foot = tee_place(spec)
        radius = ball_of(spec).radius_m
        height = float(rng.choice([0.62, 0.72, 0.80, 0.88])) + radius
        return np.asarray(foot + np.array([rng.normal(0, 0.004), rng.normal(0, 0.004), height]))
    return np.array(
        [rng.normal(0, 0.14), PLATE_M + np.clip(rng.normal(0.05, 0.2), -0.35, 0.6), rng.uniform(0.55, 1.05)]
    )


def _hit_ball(rng: np.random.Generator, spec: SceneSpec, delivery: str) -> tuple[Floats, Floats]:
    usual = {"tee": (66, 9), "toss": (69, 10), "live": (73, 10)}[delivery]
    extra = 10 if spec.ball_kind == "baseball" else 0
    speed = float(np.clip(rng.normal(usual[0] + extra, usual[1]), 45, 105)) * MPH
    launch = float(np.clip(rng.normal(14, 13), -15, 50))
    pull = -1.0 if spec.bats == "right" else 1.0
    spray = float(np.clip(rng.normal(7 * pull, 18), -52, 52))
    a, b = np.radians(launch), np.radians(spray)
    velocity = speed * np.array([np.cos(a) * np.sin(b), np.cos(a) * np.cos(b), np.sin(a)])
    back = float(np.clip(rng.normal(300 + 45 * launch, 450), -1500, 3200)) * RPM
    side = float(rng.normal(14 * spray, 350)) * RPM
    gyro = float(rng.normal(0, 200)) * RPM
    right = np.array([np.cos(b), -np.sin(b), 0.0])
    return velocity, back * right + side * np.array([0.0, 0.0, -1.0]) + gyro * velocity / speed


def _delivery(
    rng: np.random.Generator, spec: SceneSpec, delivery: str, where: Floats, contact_s: float
) -> tuple[float, Floats, list[Piece], Floats]:
    """Release time and place, the ball's way until contact, and its velocity there."""
    if delivery == "tee":
        return -1.0, where, [still(where, 0.0, contact_s)], np.zeros(3)
    air, ball = air_of(spec), ball_of(spec)
    if delivery == "toss":
        side = 1.0 if spec.bats == "right" else -1.0
        wide = 0.4 if spec.place == "side" else 1.0  # nobody tosses from between the phone and the batter
        release = where + np.array([side * wide * rng.uniform(1.6, 2.6), rng.uniform(1.6, 2.6) + 0.6 * (1 - wide), 0.0])
        release[2] = rng.uniform(0.6, 1.0)
        flight = float(rng.uniform(0.45, 0.65))
    else:
        d = diamond_of(spec)
        release = np.array([rng.normal(0.25, 0.1), d.pitching_m - rng.uniform(0.3, 0.9), rng.uniform(0.6, 1.0)])
        if spec.venue == "cage":  # from a little aside, out of the hit balls' way
            release[0] += 0.9 if spec.bats == "right" else -1.4
        flight = _arc_time(rng, spec, d.pitching_m)
        if spec.ball_kind == "baseball" and not spec.fastpitch:
            release[2] = rng.uniform(1.6, 1.9)
    velocity = aim(release, where, flight, air, ball)
    start = contact_s - flight
    path = fly(release, velocity, np.zeros(3), air, ball, flight + 0.2)
    into = path.sol(flight)[3:]

    def at(times: Floats) -> Floats:
        return np.asarray(path.sol(np.clip(times - start, 0.0, flight))[:3].T)

    return start, release, [Piece(min(start, 0.0), contact_s, "pitch", at)], into


def _arc_time(rng: np.random.Generator, spec: SceneSpec, pitching_m: float) -> float:
    if spec.venue == "cage":
        return pitching_m / float(rng.uniform(7.0, 10.0))  # a firm underhand toss
    if spec.ball_kind == "baseball":
        return pitching_m / float(rng.uniform(42, 60) * MPH)  # batting practice: common practice, no source
    if spec.fastpitch:
        return pitching_m / float(rng.uniform(45, 62) * MPH)
    apex = float(rng.uniform(6.5, 11.5)) * FT
    # Up from 0.8 m and down to 0.8 m without drag.
    return float(2.0 * np.sqrt(2.0 * (apex - 0.8) / 9.80665))
