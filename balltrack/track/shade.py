"""How light lies on a matt ball, whatever lights it: nine smooth functions of its face, and what is likely of them."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from balltrack.compiled import compiled
from balltrack.track.explained import TERMS
from balltrack.units import Floats

LIGHTS = 300  # directions of the sun tried
# Share of the light that comes from all round: from a hard sun to a bright cloud (judgement, no source).
AMBIENT = (0.2, 0.4, 0.6, 0.8)
FIGURE_SD = 0.03  # what scuffs, seams and a second sun add, of the ball's mean light (judgement, no source)
GRID = 24  # points across the disc on which lights are fitted


@dataclass(frozen=True, slots=True, eq=False)
class LikelyShade:
    """What is likely of the shade terms, but for the first, of a ball whose mean light is one. x runs to the right in
    the picture, y down."""

    mean: Floats  # (8,)
    precision: Floats  # (8, 8) inverse of the covariance

    def along(self, turn: float) -> tuple[Floats, Floats]:
        """Mean and precision with x along a direction. [rad from the picture's right towards down]"""
        return _along(self.mean, self.precision, turned(turn), turned(-turn))


@compiled
def _along(mean: Floats, precision: Floats, there: Floats, back: Floats) -> tuple[Floats, Floats]:
    """Mean (8,) and precision (8, 8) in turned axes: ``there`` and ``back`` (9, 9) turn the terms."""
    count = len(mean)
    out, half, whole = np.zeros(count), np.zeros((count, count)), np.zeros((count, count))
    for k in range(count):
        for m in range(count):
            out[k] += there[k + 1, m + 1] * mean[m]
            for n in range(count):
                half[k, n] += precision[k, m] * back[m + 1, n + 1]
    for k in range(count):
        for m in range(count):
            for n in range(count):
                whole[k, n] += back[m + 1, k + 1] * half[m, n]
    return out, whole


@compiled
def turned(turn: float) -> Floats:
    """(9, 9) weights of the shade terms with x along a direction, from those with x to the right. [rad]"""
    c, s, c2, s2 = np.cos(turn), np.sin(turn), np.cos(2 * turn), np.sin(2 * turn)
    out = np.eye(9)  # TERMS, which stand in another file: no kernel uses those
    for k in (1, 4):  # x and y, xz and yz
        out[k, k], out[k, k + 1], out[k + 1, k], out[k + 1, k + 1] = c, s, -s, c
    out[6, 6], out[6, 7], out[7, 6], out[7, 7] = c2, -2 * s2, s2 / 2, c2
    return out


@lru_cache(maxsize=1)
def any_light() -> LikelyShade:
    """Where nothing is known of the light."""
    return LikelyShade(np.zeros(TERMS - 1), np.asarray(np.linalg.inv(likely_shade())))


@lru_cache(maxsize=1)
def likely_shade() -> Floats:
    """Second moments (8, 8) of the shade terms, but for the first, of a lit ball whose mean light is one.

    Notes
    -----
    A matt sphere under a distant sun is as bright as ``max(0, n · l)`` (Lambert) above light from all round. Of any
    such light the spherical harmonics up to the second order hold 98 % (Basri & Jacobs, IEEE PAMI 25, 2003;
    Ramamoorthi & Hanrahan, JOSA A 18, 2001), and on the visible half they are the functions of `shade_terms`. Every
    direction of the sun is as likely as any other.
    """
    step = (np.arange(GRID) + 0.5) / GRID * 2 - 1
    x, y = (each[np.hypot(*np.meshgrid(step, step)) < 1] for each in np.meshgrid(step, step))
    normals = np.stack([x, y, np.sqrt(1 - x * x - y * y)])
    looks = lit_from_anywhere(normals)
    weights = np.linalg.lstsq(shade_terms(x, y).T, looks.T, rcond=None)[0].T
    shade = weights[:, 1:] / weights[:, :1]
    return np.asarray(shade.T @ shade / len(shade) + FIGURE_SD**2 * np.eye(TERMS - 1))


def lit_from_anywhere(normals: Floats) -> Floats:
    """(m, n) light on faces (3, n) under m suns all over the sky and below, each in haze of all kinds."""
    lit = np.maximum(evenly_spread(LIGHTS).T @ normals, 0)
    return np.concatenate([share + (1 - share) * lit for share in AMBIENT])


def evenly_spread(count: int) -> Floats:
    """(3, n) directions spread evenly over a sphere, along a spiral from z = 1 to z = -1."""
    k = np.arange(count) + 0.5
    towards, turn = 1 - 2 * k / count, np.pi * (1 + np.sqrt(5)) * k
    across = np.sqrt(1 - towards**2)
    return np.stack([across * np.cos(turn), across * np.sin(turn), towards])


def shade_terms(x: Floats, y: Floats) -> Floats:
    """(9, n) the terms at places (n,) of a disc of radius one: 1; x, y, z - 2/3; xz, yz, xy, x² - y², x² + y² - 1/2.

    z is the height of the sphere above the disc. All but the first have a mean of zero over the disc.
    """
    z = np.sqrt(np.maximum(1 - x * x - y * y, 0))
    terms = [np.ones_like(x), x, y, z - 2 / 3, x * z, y * z, x * y, x * x - y * y, x * x + y * y - 0.5]
    return np.asarray(np.stack(terms))
