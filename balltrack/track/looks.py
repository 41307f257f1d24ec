"""How a ball looks beside where it is: its shade, the lens's blur, and where colours are stored. One flight's pictures
share them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from balltrack.track.light import in_one_light
from balltrack.track.match import LENS, SITE, Match
from balltrack.track.shade import LikelyShade, any_light
from balltrack.units import Floats

LENS_BLUR_PX, LENS_LOG_SD = 0.6, 0.5  # sigma: sharpened by the phone, or not (judgement, no source)
SITE_SD_PX = 0.2  # of where colours are stored: on columns or between them
# How far blur (its logarithm) and colours' place are off the flight's own in one picture: focus, compression
# (judgement, no source).
SCATTER = np.array([0.1, 0.1])
LEAST_TOLD = 1e-6  # information where a picture tells nothing


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """What is known of a ball's looks beforehand."""

    shade: LikelyShade
    lens_and_site: Floats  # (2,) log of the lens's blur [px], and how far right of where it was thought colour is [px]
    lens_and_site_sd: Floats  # (2,)


def any_looks() -> Looks:
    """Where nothing is known but that a phone filmed a ball."""
    return Looks(any_light(), np.array([np.log(LENS_BLUR_PX), 0.0]), np.array([LENS_LOG_SD, SITE_SD_PX]))


def looks_alike(matches: Sequence[Match], axes: Floats) -> list[Looks]:
    """What each picture's ball is likely to look like, by all others of its flight.

    Parameters
    ----------
    matches : sequence of Match
        At least two, each made with `any_looks`.
    axes : (n, 3, 3) array
        As of `light.in_one_light`.
    """
    shades = in_one_light([each.glimpse for each in matches], axes)
    usual = any_looks()
    before = 1 / usual.lens_and_site_sd**2
    found = np.array([each.pose[[LENS, SITE]] for each in matches])
    variance = np.array([np.diag(each.covariance)[[LENS, SITE]] for each in matches])
    told = np.maximum(1 / variance - before, LEAST_TOLD)
    alone = (found / variance - before * usual.lens_and_site) / told  # without what was thought beforehand
    weight = 1 / (1 / told + SCATTER**2)
    others = weight.sum(axis=0) - weight + before
    mean = ((weight * alone).sum(axis=0) - weight * alone + before * usual.lens_and_site) / others
    sd = np.hypot(1 / np.sqrt(others), SCATTER)
    return [Looks(shade, *both) for shade, *both in zip(shades, mean, sd, strict=True)]
