"""The light on a ball in flight, told by all its pictures together: where the sun stands does not change between them.

A matt ball's looks are nine smooth functions of its face (`shade`), and as such they turn with it: what one picture
tells of the light holds in the next, seen from another side.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from balltrack.track.explained import TERMS
from balltrack.track.match import Glimpse
from balltrack.track.shade import LikelyShade, evenly_spread, lit_from_anywhere, shade_terms
from balltrack.units import Floats

# How far the shade in one picture is off the common light, in shares of the ball's mean light: its figure, what stands
# near it, compression (judgement from rendered clips, no source).
SCATTER = 0.05
OTHER_SD = 0.01  # what light holds that neither sun nor haze explains
DARKEST = 0.05  # of the mean light: a face so dark tells no brightness
ROUNDS = 4
FACES = 200  # of half a sphere


def in_one_light(glimpses: Sequence[Glimpse], axes: Floats) -> list[LikelyShade]:
    """What the shade in each picture is likely to be, by all others.

    Parameters
    ----------
    glimpses : sequence of Glimpse
        What each of at least two pictures of one flight tells.
    axes : (n, 3, 3) array
        Rows: the picture's right, its down and the way to the camera at the ball, in a frame in which light stays.
    """
    seen = np.array([_as_seen(each) for each in axes])
    told = [_scattered(each) for each in glimpses]
    gain, light = np.ones(len(told)), np.eye(TERMS)[0]
    for _ in range(ROUNDS):
        parts = [_in_field(*each, view, g) for each, view, g in zip(told, seen, gain, strict=True)]
        light = np.linalg.solve(_unlikely_light() + sum(part[0] for part in parts), sum(part[1] for part in parts))
        # The exposure may change from picture to picture: only shares of the mean light are common.
        shown = np.maximum((seen @ light)[:, 0], DARKEST)
        gain = shown.mean() / shown
    information, pull = (np.array([part[k] for part in parts]) for k in (0, 1))
    return [
        _likely(view, information.sum(axis=0) - own, pull.sum(axis=0) - own_pull)
        for view, own, own_pull in zip(seen, information, pull, strict=True)
    ]


def _scattered(glimpse: Glimpse) -> tuple[Floats, Floats]:
    """Information (9, 9) and pull (9,) in shares of the mean light, no surer than pictures are alike."""
    bright = max(glimpse.brightness, 1.0)
    information, pull = glimpse.information * bright**2, glimpse.pull * bright
    scatter = SCATTER**2 * np.diag([0.0] + [1.0] * (TERMS - 1))
    less = np.linalg.inv(np.eye(TERMS) + information @ scatter)
    return less @ information, less @ pull


def _in_field(information: Floats, pull: Floats, seen: Floats, gain: float) -> tuple[Floats, Floats]:
    """The same of the common light. ``gain``: brightness of the picture over that of the light as it is told."""
    return gain**2 * seen.T @ information @ seen, gain * seen.T @ pull


def _likely(seen: Floats, information: Floats, pull: Floats) -> LikelyShade:
    covariance = np.linalg.inv(information + _unlikely_light())
    look = seen @ (covariance @ pull)
    mean = max(float(look[0]), DARKEST)
    shade = look[1:] / mean
    slope = (seen[1:] - np.outer(shade, seen[0])) / mean
    spread = slope @ covariance @ slope.T + SCATTER**2 * np.eye(TERMS - 1)
    return LikelyShade(shade, np.asarray(np.linalg.inv(spread)))


def _as_seen(axes: Floats) -> Floats:
    """(9, 9) weights of the shade terms in a picture, from those of the light in the field."""
    faces, back = _faces()
    return np.asarray(back @ _light_terms(axes.T @ faces).T)


def _light_terms(normals: Floats) -> Floats:
    """(9, n) the light's own terms at faces (3, n): all smooth functions on a sphere up to the second order."""
    x, y, z = normals
    return np.stack([np.ones_like(x), x, y, z, x * z, y * z, x * y, x * x - y * y, z * z - 1 / 3])


@lru_cache(maxsize=1)
def _faces() -> tuple[Floats, Floats]:
    """Faces (3, n) spread over the side that a camera sees, and (9, n) by which looks at them give the shade terms."""
    faces = evenly_spread(2 * FACES)[:, :FACES]
    return faces, np.asarray(np.linalg.pinv(shade_terms(faces[0], faces[1]).T))


@lru_cache(maxsize=1)
def _unlikely_light() -> Floats:
    """(9, 9) information that holds the light to what sun and haze can do."""
    faces = evenly_spread(2 * FACES)
    weights = np.linalg.lstsq(_light_terms(faces).T, lit_from_anywhere(faces).T, rcond=None)[0].T
    shares = weights[:, 1:] / weights[:, :1]
    out = np.eye(TERMS) * 1e-6
    out[1:, 1:] += np.linalg.inv(shares.T @ shares / len(shares) + OTHER_SD**2 * np.eye(TERMS - 1))
    return out
