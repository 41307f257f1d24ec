"""Who and what is on the field besides the ball: batter, bat, pitcher, tee, walkers, birds, and things lying about."""

import itertools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .arrays import Floats
from .ball_paint import COLOURS
from .brush import Limb
from .figure import (
    bat_limbs,
    bat_pose,
    batter_stance,
    between,
    body_limbs,
    dress,
    ease,
    pitcher_stance,
    walking_stance,
)
from .play import NET_Y_M, RETURN_S, Play, tee_place
from .scene_spec import SceneSpec, ball_of, diamond_of

LimbsAt = Callable[[float], list[Limb]]


def shift(x: float, y: float, z: float) -> Floats:
    """A step in the field frame."""
    return np.array([x, y, z], np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Actor:
    """Something that moves: its limbs at a clip time."""

    limbs: LimbsAt
    centre_m: Callable[[float], Floats]
    fast: bool = False  # blurred over the exposure
    shadow: bool = True


class Cast:
    """The lesson's people and things."""

    def __init__(self, spec: SceneSpec) -> None:
        self.spec = spec
        self.batter = dress(spec.cloth_hue, spec.skin_tone, spec.batter_height_m, spec.batter_build)
        self.other = dress((spec.cloth_hue + 0.37) % 1, (spec.skin_tone + 0.5) % 1, 1.76, 1.0)

    def actors(self, play: Play) -> list[Actor]:
        """Everyone in a clip."""
        spec, swing, start_s = self.spec, play.swing, play.start_s
        middle = swing.barrel_m + np.array([-0.9 if swing.right_handed else 0.9, -0.4, 0.2])
        out = [
            Actor(lambda t: self._batter(play, t), lambda t: middle),
            Actor(lambda t: self._bat(play, t), lambda t: swing.barrel_m, fast=True),
            self._bucket(),
        ]
        if play.delivery == "tee":
            out.append(self._tee(play))
        if play.delivery == "live":
            out.append(self._pitcher(play))
        if play.delivery == "toss":
            out.append(self._tosser(play))
        rng = np.random.default_rng([spec.seed, 40])
        out += [self._walker(rng, start_s) for _ in range(spec.walkers)]
        out += [self._bird(rng, start_s) for _ in range(spec.birds)]
        return out

    def _batter(self, play: Play, t: float) -> list[Limb]:
        stance = batter_stance(play.swing, self.batter, t)
        if play.next_swing is not None:
            stance = between(stance, batter_stance(play.next_swing, self.batter, t - play.length_s), _back(play, t))
        return body_limbs(stance, self.batter, True)

    def _bat(self, play: Play, t: float) -> list[Limb]:
        knob, way = bat_pose(play.swing, t)
        if play.next_swing is not None:
            share = _back(play, t)
            next_knob, next_way = bat_pose(play.next_swing, t - play.length_s)
            knob, way = knob * (1 - share) + next_knob * share, way * (1 - share) + next_way * share
            way = way / np.linalg.norm(way)
        return bat_limbs(knob, way, self.spec.bat_kind)

    def _tee(self, play: Play) -> Actor:
        top, foot = play.tee_m, tee_place(self.spec)
        rubber, steel = np.array([0.03, 0.03, 0.03]), np.array([0.10, 0.10, 0.11])

        def limbs(t: float) -> list[Limb]:
            after = max(t - play.contact_s, 0.0) if play.hit else 0.0
            knock = np.array([0.03, 0.10, 0.0]) * np.sin(2 * np.pi * 4 * after) * np.exp(-after / 0.15)
            neck = foot + np.array([0.0, 0.0, 0.35])
            tip = top + knock
            middle = neck + 0.75 * (tip - neck)
            return [
                Limb(foot + shift(-0.18, 0.02, 0.015), foot + shift(0.18, 0.02, 0.015), 0.016, 0.016, rubber),
                Limb(foot + shift(0.0, -0.2, 0.015), foot + shift(0.0, 0.22, 0.015), 0.016, 0.016, rubber),
                Limb(foot, neck, 0.018, 0.018, steel, 0.03, 0.3),
                Limb(neck, middle, 0.013, 0.013, steel * 1.4, 0.03, 0.3),
                Limb(middle, tip, 0.017, 0.026, rubber, 0.05),
            ]

        return Actor(limbs, lambda t: top)

    def _bucket(self) -> Actor:
        """Stands still, but lies over other people's shadows."""
        spec = self.spec
        rng = np.random.default_rng([spec.seed, 42])
        side = 1.0 if spec.bats == "right" else -1.0
        colour, radius = COLOURS[spec.ball_colour], ball_of(spec).radius_m
        spot = np.array([side * rng.uniform(2.4, 3.2), rng.uniform(1.2, 2.6), 0.0])
        limbs = [Limb(spot, spot + shift(0, 0, 0.37), 0.13, 0.15, np.array([0.5, 0.5, 0.52]), 0.02, 0.0, 0, 0.25)]
        for _ in range(5):
            near = spot + shift(rng.normal(0, 0.06), rng.normal(0, 0.06), 0.37 + rng.uniform(0, 0.06))
            limbs.append(Limb(near, near + 1e-3, radius, radius, colour, 0.03))
        return Actor(lambda t: limbs, lambda t: spot)

    def _pitcher(self, play: Play) -> Actor:
        place = play.release_m + np.array([-0.25, 0.45, 0.0])
        place[2] = 0.0
        build = self.other
        return Actor(
            lambda t: body_limbs(pitcher_stance(place, play.release_m, play.release_s, build, t), build, False),
            lambda t: place + shift(0, 0, 1.0),
        )

    def _tosser(self, play: Play) -> Actor:
        away = play.release_m[:2] - play.contact_m[:2]
        place = play.release_m + np.array([*(0.45 * away / np.hypot(*away)), 0.0])
        place[2] = -0.43  # kneels: hips lower than a standing person's
        build = self.other
        return Actor(
            lambda t: [
                limb
                for limb in body_limbs(pitcher_stance(place, play.release_m, play.release_s, build, t), build, False)
                if min(limb.start_m[2], limb.end_m[2]) > 0.02
            ],
            lambda t: place + shift(0, 0, 1.0),
        )

    def _walker(self, rng: np.random.Generator, start_s: float) -> Actor:
        start = np.array([rng.uniform(-22, 22), rng.uniform(24, 60), 0.0])
        angle, pace = rng.uniform(0, 2 * np.pi), float(rng.choice([0.0, 0.6, 1.3]))
        heading = np.array([np.sin(angle), np.cos(angle), 0.0])
        build = dress(
            float(rng.uniform()), float(rng.uniform()), float(rng.uniform(1.6, 1.9)), float(rng.uniform(0.9, 1.2))
        )
        offset = float(rng.uniform(0, 3))

        def limbs(t: float) -> list[Limb]:
            now = t + start_s
            place = start + heading * pace * now
            return body_limbs(walking_stance(place, heading, build, now + offset, pace), build, False)

        return Actor(limbs, lambda t: start + heading * pace * (t + start_s) + shift(0, 0, 1.0))

    def _bird(self, rng: np.random.Generator, start_s: float) -> Actor:
        start = np.array([rng.uniform(-25, 25), rng.uniform(35, 80), rng.uniform(6, 22)])
        angle = rng.uniform(0, 2 * np.pi)
        way = np.array([np.sin(angle), np.cos(angle), rng.normal(0, 0.05)]) * rng.uniform(6, 12)
        side = np.array([way[1], -way[0], 0.0]) / np.hypot(way[0], way[1])
        dark = np.array([0.03, 0.03, 0.035])
        beat, phase = rng.uniform(3, 7), rng.uniform(0, 6)

        def limbs(t: float) -> list[Limb]:
            now = t + start_s
            body = start + way * now
            lift = np.array([0, 0, 0.16]) * np.sin(2 * np.pi * beat * now + phase)
            nose = body + 0.14 * way / np.linalg.norm(way)
            return [
                Limb(body, nose, 0.05, 0.03, dark, 0),
                Limb(body, body + 0.26 * side + lift, 0.035, 0.012, dark, 0),
                Limb(body, body - 0.26 * side + lift, 0.035, 0.012, dark, 0),
            ]

        return Actor(limbs, lambda t: start + way * (t + start_s), shadow=False)


def _back(play: Play, t: float) -> float:
    """How far, 0 to 1, the batter has come back into the stance for the next swing."""
    return ease((t - play.length_s + RETURN_S) / RETURN_S)


def props(spec: SceneSpec, deliveries: tuple[str, ...]) -> list[Limb]:
    """Things that stay: balls lying about, foul poles, a pitcher's screen, a hitting net."""
    rng = np.random.default_rng([spec.seed, 41])
    colour, radius = COLOURS[spec.ball_colour], ball_of(spec).radius_m
    limbs: list[Limb] = []
    for _ in range(int(rng.integers(2, 6))):
        lying = np.array([rng.uniform(-4, 4), rng.uniform(3, 16), radius])
        limbs.append(Limb(lying, lying + 1e-3, radius, radius, colour, 0.03))
    far = spec.fence_m * np.sqrt(0.5)
    for x in (-far, far):
        limbs.append(Limb(np.array([x, far, 0.0]), np.array([x, far, 7.0]), 0.05, 0.05, np.array([0.7, 0.55, 0.05]), 0))
    steel = np.array([0.25, 0.26, 0.28])
    if "live" in deliveries:
        d = diamond_of(spec).pitching_m - 1.6
        limbs += _frame(-1.15, 0.12, d, 1.9, steel) + _mesh(-1.15, 0.12, d, 1.9, 0.12)
    if spec.net:
        limbs += _frame(-2.1, 2.1, NET_Y_M, 2.4, steel) + _mesh(-2.1, 2.1, NET_Y_M, 2.4, 0.10)
    return limbs


def _frame(left: float, right: float, y: float, tall: float, colour: Floats) -> list[Limb]:
    corners = [
        np.array([left, y, 0.02]),
        np.array([left, y, tall]),
        np.array([right, y, tall]),
        np.array([right, y, 0.02]),
    ]
    pipes = [Limb(a, b, 0.02, 0.02, colour, 0.03) for a, b in itertools.pairwise(corners)]
    return [
        *pipes,
        Limb(corners[0], corners[0] + shift(0, 0.6, 0), 0.02, 0.02, colour),
        Limb(corners[3], corners[3] + shift(0, 0.6, 0), 0.02, 0.02, colour),
    ]


def _mesh(left: float, right: float, y: float, tall: float, gap: float) -> list[Limb]:
    black = np.array([0.02, 0.02, 0.02])
    up = [
        Limb(np.array([x, y, 0.0]), np.array([x, y, tall]), 0.0025, 0.0025, black, 0)
        for x in np.arange(left, right, gap)
    ]
    flat = [
        Limb(np.array([left, y, z]), np.array([right, y, z]), 0.0025, 0.0025, black, 0)
        for z in np.arange(0.0, tall, gap)
    ]
    return up + flat
