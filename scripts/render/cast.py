"""Who and what moves besides the ball: batter, bat, tee, pitcher, catcher, the next ball, walkers, birds."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from .air_path import GRAVITY
from .arrays import Floats
from .ball_paint import COLOURS
from .brush import Limb
from .figure import (
    bat_limbs,
    bat_pose,
    batter_stance,
    between,
    body_limbs,
    crouching_stance,
    dress,
    ease,
    kneeling,
    pitcher_stance,
    walking_stance,
)
from .impact import impact_of, rippling
from .play import RETURN_S, Play, tee_place
from .scene_spec import SceneSpec
from .stops import MITT_Y_M
from .things import ball_limb, bucket, shift

LimbsAt = Callable[[float], list[Limb]]


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
        if spec.like_cloth:
            self.batter = replace(self.batter, shirt=0.8 * COLOURS[spec.ball_colour])
        self.other = dress((spec.cloth_hue + 0.37) % 1, (spec.skin_tone + 0.5) % 1, 1.76, 1.0)
        self.helper = dress((spec.cloth_hue + 0.7) % 1, (spec.skin_tone + 0.25) % 1, 1.70, 1.05)

    def actors(self, play: Play) -> list[Actor]:
        """Everyone in a clip."""
        spec, swing, start_s = self.spec, play.swing, play.start_s
        middle = swing.barrel_m + np.array([-0.9 if swing.right_handed else 0.9, -0.4, 0.2])
        out = [
            Actor(lambda t: self._batter(play, t), lambda t: middle),
            Actor(lambda t: self._bat(play, t), lambda t: swing.barrel_m, fast=True),
            _standing(bucket(spec)),
        ]
        if play.delivery == "tee":
            out.append(self._tee(play))
        if play.delivery == "live":
            out.append(self._pitcher(play))
        if play.delivery == "toss":
            out.append(self._tosser(play))
        if play.delivery == "live" and spec.catcher:
            out.append(self._catcher(play))
        if spec.next_ball:
            out += self._next_ball(play)
        impact = impact_of(play.pieces, spec, play.contact_s)
        if impact is not None and impact.soft:
            met = impact
            out.append(Actor(lambda t: rippling(met, t), lambda t: met.place_m, shadow=False))
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
            after = max(t - play.contact_s, 0.0) if play.outcome in ("hit", "foul_tip") else 0.0
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
            lambda t: body_limbs(
                kneeling(pitcher_stance(place, play.release_m, play.release_s, build, t)), build, False
            ),
            lambda t: place + shift(0, 0, 1.0),
        )

    def _catcher(self, play: Play) -> Actor:
        place = np.array([0.0, MITT_Y_M - 0.62, 0.0])
        rest = np.array([0.0, MITT_Y_M, 0.62])
        gear = np.array([0.035, 0.04, 0.06])
        build = replace(self.other, cap=gear, shirt=gear + 0.04, girth=1.12)

        def limbs(t: float) -> list[Limb]:
            goal = rest
            if play.mitt_m is not None:
                goal = rest + (play.mitt_m - shift(0, 0.04, 0) - rest) * ease((t - play.contact_s + 0.2) / 0.25)
            body = body_limbs(crouching_stance(place, goal, build, t), build, True)
            hand = crouching_stance(place, goal, build, t).left_hand
            leather = np.array([0.20, 0.09, 0.035])
            return [*body, Limb(hand, hand + shift(0.02, 0.05, 0.08), 0.10, 0.12, leather, 0.08, 0.1, 21)]

        return Actor(limbs, lambda t: place + shift(0, 0, 0.6))

    def _next_ball(self, play: Play) -> list[Actor]:
        """Someone at the side tosses the next ball to the batter, a little after this one is met."""
        spec, rng = self.spec, np.random.default_rng([self.spec.seed, 43, int(1000 * play.contact_s)])
        side = 1.0 if spec.bats == "right" else -1.0
        here = -side if spec.place == "side" else side  # not between the phone and the batter
        out = [] if play.delivery == "toss" else [here * 2.5, 2.6]
        if spec.venue == "cage":
            out = [here * (spec.cage_half_m - 0.4), min(2.6, spec.stop_m - 0.8)]
        hand = play.release_m if play.delivery == "toss" else np.array([*out, 0.95])
        goal = play.swing.barrel_m + np.array([-0.75 * side, 0.25, 0.15])
        start_s, flight_s = play.contact_s + float(rng.uniform(0.08, 0.45)), float(rng.uniform(0.5, 0.75))
        velocity = (goal - hand) / flight_s + shift(0, 0, 0.5 * GRAVITY * flight_s)
        low = ball_limb(goal, spec).start_radius_m

        foot, build = shift(hand[0] + 0.35 * here, hand[1] + 0.3, 0.0), self.helper

        def at(t: float) -> Floats:
            if t < start_s and play.delivery != "toss":
                return pitcher_stance(foot, hand, start_s, build, t).right_hand
            gone = min(max(t - start_s, 0.0), flight_s)
            place = hand + velocity * gone - shift(0, 0, 0.5 * GRAVITY * gone**2)
            late = max(t - start_s - flight_s, 0.0)  # the batter lets it drop
            place[2] = max(place[2] - 0.5 * GRAVITY * late**2, low)
            return np.asarray(place)

        toss = Actor(lambda t: [ball_limb(at(t), spec)], at, fast=True)
        if play.delivery == "toss":
            return [toss]
        return [
            toss,
            Actor(
                lambda t: body_limbs(pitcher_stance(foot, hand, start_s, build, t), build, False),
                lambda t: foot + shift(0, 0, 1.0),
            ),
        ]

    def _walker(self, rng: np.random.Generator, start_s: float) -> Actor:
        start = np.array([rng.uniform(-22, 22), rng.uniform(24, 60), 0.0])
        if self.spec.venue != "field":
            start = np.array([start[0] / 22 * 6.5, 0.75 * self.spec.stop_m, 0.0])
        angle, pace = rng.uniform(0, 2 * np.pi), float(rng.choice([0.0, 0.6, 1.3]))
        if self.spec.venue != "field":
            angle = np.pi / 2 * float(np.sign(-start[0]))  # along the wall, not through it
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


def _standing(limbs: list[Limb]) -> Actor:
    """Something that stands still, but lies over other people's shadows."""
    return Actor(lambda t: limbs, lambda t: limbs[0].start_m)


def _back(play: Play, t: float) -> float:
    """How far, 0 to 1, the batter has come back into the stance for the next swing."""
    return ease((t - play.length_s + RETURN_S) / RETURN_S)
