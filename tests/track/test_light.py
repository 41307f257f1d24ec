"""One sun on a ball seen from many sides, by Lambert's cosine law (J. H. Lambert, Photometria, 1760)."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from balltrack.track.explained import TERMS
from balltrack.track.light import SCATTER, in_one_light
from balltrack.track.match import Glimpse
from balltrack.track.shade import LikelyShade, shade_terms
from balltrack.units import Floats

SUN = np.array([0.5, -0.4, 0.7]) / np.linalg.norm([0.5, -0.4, 0.7])
HAZE = 0.4
SURE = 1e4  # information of a glimpse in which shade is seen to a hundredth of the ball's light


def seen_from(bearing_rad: float) -> Floats:
    """(3, 3) right, down and towards a level camera."""
    towards = np.array([np.cos(bearing_rad), np.sin(bearing_rad), 0.0])
    down = np.array([0.0, 0.0, -1.0])
    return np.stack([np.cross(down, towards), down, towards])


STEP = np.linspace(-0.98, 0.98, 40)
DISC = np.stack([each[np.hypot(*np.meshgrid(STEP, STEP)) < 0.98] for each in np.meshgrid(STEP, STEP)])


def lit(axes: Floats) -> Floats:
    """(n,) light at places of the disc as this camera sees it."""
    faces = np.stack([*DISC, np.sqrt(1 - (DISC**2).sum(axis=0))])
    light = HAZE + (1 - HAZE) * np.maximum(SUN @ (axes.T @ faces), 0)
    return np.asarray(light / light.mean())


def shade_of(axes: Floats) -> Floats:
    """(9,) the terms that best show it, found by least squares over the disc."""
    return np.asarray(np.linalg.lstsq(shade_terms(*DISC).T, lit(axes), rcond=None)[0])


def off(likely: LikelyShade, axes: Floats) -> float:
    """Root mean square by which a likely shade misses the light, as a share of the ball's mean light."""
    return float(np.sqrt(np.mean((1 + likely.mean @ shade_terms(*DISC)[1:] - lit(axes)) ** 2)))


def glimpse_of(axes: Floats, brightness: float, information: float = SURE) -> Glimpse:
    weights = brightness * shade_of(axes) / shade_of(axes)[0]
    told = np.eye(TERMS) * information / brightness**2
    return Glimpse(told, told @ weights, brightness)


BEARINGS = np.linspace(0.2, 1.4, 9)
AXES = np.array([seen_from(bearing) for bearing in BEARINGS])


@pytest.mark.parametrize("brighter", [0.0, 0.3])
def test_a_picture_that_tells_nothing_gets_the_light_of_the_others(brighter: float) -> None:
    """Also where the camera opens up meanwhile: shade is a share of the ball's mean light."""
    glimpses = [glimpse_of(axes, 120.0 * (1 + brighter * k / 9)) for k, axes in enumerate(AXES)]
    glimpses[4] = replace(glimpses[4], information=np.zeros((TERMS, TERMS)), pull=np.zeros(TERMS))
    likely = in_one_light(glimpses, AXES)[4]
    # What light holds beyond the second order is 1 % of its power (Ramamoorthi & Hanrahan, JOSA A 18, 2001, table 1):
    # a tenth of its amplitude, of which the half that is not seen has its share.
    assert off(likely, AXES[4]) < 0.1
    assert np.sqrt(np.diag(np.linalg.inv(likely.precision))).max() < 2 * SCATTER


def test_no_picture_confirms_itself() -> None:
    """What is likely in a picture is told by the others: as good where its own look is another thing's."""
    glimpses = [glimpse_of(axes, 120.0) for axes in AXES]
    honest = off(in_one_light(glimpses, AXES)[0], AXES[0])
    flat = glimpses[0].information @ (120.0 * np.eye(TERMS)[0])
    glimpses[0] = replace(glimpses[0], pull=2 * flat - glimpses[0].pull)  # lit from the other side
    assert off(in_one_light(glimpses, AXES)[0], AXES[0]) == approx(honest, abs=0.1 * SCATTER)


def test_where_nothing_was_told_little_is_likely() -> None:
    """Pictures that tell nothing but how bright the ball is leave the light as open as sun and haze are."""
    bright = np.eye(TERMS)[0]
    nothing = Glimpse(np.outer(bright, bright), 100.0 * bright, 100.0)
    likely = in_one_light([nothing] * 5, np.repeat(AXES[:1], 5, axis=0))[0]
    assert np.abs(likely.mean).max() < 1e-6  # what keeps the sums solvable
    # A sun from the side, without haze, would shade a ball from none at one rim to twice its mean at the other; over
    # suns from anywhere, in haze of all kinds, the sd of this slope must lie below that.
    assert 0.2 < np.sqrt(np.linalg.inv(likely.precision)[0, 0]) < 1.0
