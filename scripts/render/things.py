"""Things on the field that nobody moves: balls lying about, a bucket, foul poles, screens and nets."""

import itertools

import numpy as np

from .arrays import Floats
from .ball_paint import COLOURS
from .brush import Limb
from .scene_spec import SceneSpec, ball_of, diamond_of
from .stops import NET_HALF_M, NET_TALL_M, NET_Y_M


def shift(x: float, y: float, z: float) -> Floats:
    """A step in the field frame."""
    return np.array([x, y, z], np.float64)


def ball_limb(place: Floats, spec: SceneSpec) -> Limb:
    """A ball of the lesson that is not in play."""
    radius = ball_of(spec).radius_m
    return Limb(place, place + 1e-3, radius, radius, COLOURS[spec.ball_colour], 0.03)


def bucket(spec: SceneSpec) -> list[Limb]:
    """A bucket of balls to the batter's front."""
    rng = np.random.default_rng([spec.seed, 42])
    side = 1.0 if spec.bats == "right" else -1.0
    spot = np.array([side * rng.uniform(2.4, 3.2), rng.uniform(1.2, 2.6), 0.0])
    if spec.venue == "cage":
        spot[0] = side * (spec.cage_half_m - 0.35)
    limbs = [Limb(spot, spot + shift(0, 0, 0.37), 0.13, 0.15, np.array([0.5, 0.5, 0.52]), 0.02, 0.0, 0, 0.25)]
    for _ in range(5):
        near = spot + shift(rng.normal(0, 0.06), rng.normal(0, 0.06), 0.37 + rng.uniform(0, 0.06))
        limbs.append(ball_limb(near, spec))
    return limbs


def props(spec: SceneSpec, deliveries: tuple[str, ...]) -> list[Limb]:
    """Things that stay and are painted once: balls lying about, foul poles, a pitcher's screen, a hitting net."""
    limbs = [ball_limb(place, spec) for place in _lying(spec)]
    if spec.venue == "field":
        far, yellow = spec.fence_m * np.sqrt(0.5), np.array([0.7, 0.55, 0.05])
        limbs += [Limb(np.array([x, far, 0.0]), np.array([x, far, 7.0]), 0.05, 0.05, yellow, 0) for x in (-far, far)]
    steel = np.array([0.25, 0.26, 0.28])
    if "live" in deliveries and spec.venue != "cage":
        d = diamond_of(spec).pitching_m - 1.6
        limbs += _frame(-1.15, 0.12, d, 1.9, steel) + _mesh(-1.15, 0.12, d, 1.9, 0.12)
    if spec.net:
        limbs += _frame(-NET_HALF_M, NET_HALF_M, NET_Y_M, NET_TALL_M, steel)
        limbs += _mesh(-NET_HALF_M, NET_HALF_M, NET_Y_M, NET_TALL_M, 0.10)
    return limbs


def _lying(spec: SceneSpec) -> list[Floats]:
    """Where spare balls lie: every third near the plate."""
    rng = np.random.default_rng([spec.seed, 41])
    radius, out = ball_of(spec).radius_m, []
    wide = 4.0 if spec.venue != "cage" else spec.cage_half_m - 0.1
    deep = 16.0 if spec.venue == "field" else spec.stop_m - 0.2
    for number in range(spec.spare_balls):
        if number % 3 == 2:
            place = [float(rng.choice([-1, 1])) * rng.uniform(0.3, 1.8), rng.uniform(-0.9, 2.2), radius]
        else:
            place = [rng.uniform(-wide, wide), rng.uniform(min(3.0, 0.5 * deep), deep), radius]
        out.append(np.array(place))
    return out


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
