"""What the flights of one lesson share, learned from all of them together.

One swing alone hardly tells a ball that looks 3 % too large from one that is 3 % nearer and slower, nor a wrong focal
length from a harder hit. But camera, light and ball stay the same through a lesson, and so does most of a player's
habit of meeting the ball early or late. Each swing's fit says something of these; here the sayings are put together,
and each swing is corrected by what the others say.

The model is a normal one in two levels: a shared quantity of swing i is the lesson's value plus the swing's own
departure, both with known variances, whose sum is the variance that the single fit allowed for (normal-normal
hierarchical model: Gelman et al., Bayesian Data Analysis, 3rd ed., chapter 5). All is linear about the single fits, so
the joint fit of a whole lesson has a closed form.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from balltrack.flight.evidence import CAMERA, DRAG, SIZE, ContactPrior, Setting, camera_basis, known_beforehand
from balltrack.flight.fit import FlightFit
from balltrack.units import Floats

# Of the variance that a single fit allows for, the share that is common to a lesson; the rest is each swing's own.
# Judgement from rendered lessons, no source.
LOOKS_COMMON = 0.7  # light and ball are the same, the background is not
DRAG_COMMON = 0.7  # the balls of a bucket are alike, their spin is not
PLACE_COMMON = 0.5  # a player's stance and habit
CAMERA_COMMON = 1.0 - 1e-6
FEWEST_SWINGS = 2
VAGUE_SHARE = 0.15  # a speed that is vaguer than this share of itself is left as it is: the linear correction fails
CONFLICT_Z = 3.0  # a swing that differs so much from what the others say of the shared quantities is left as it is


@dataclass(frozen=True, slots=True, eq=False)
class SharedView:
    """What one swing's fit says of the shared quantities, as departures from their means beforehand."""

    which: NDArray[np.intp]  # (q,) their places among the fit's parameters
    slots: NDArray[np.intp]  # (q,) their places among the lesson's
    found: Floats  # (q,)
    covariance: Floats  # (q, q)
    common: Floats  # (q,) variance beforehand of the lesson's value
    own: Floats  # (q,) variance beforehand of the swing's departure from it
    information: Floats = field(init=False)  # (q, q) what the swing itself tells, beyond what was known beforehand
    of_lesson: Floats = field(init=False)  # (q, q) what it tells of the lesson's values, through its own departure
    said: Floats = field(init=False)  # (q,) what was found, weighed alike

    def __post_init__(self) -> None:  # once: each swing is asked by every other
        told = np.linalg.inv(self.covariance) - np.diag(1 / (self.common + self.own))
        share, directions = np.linalg.eigh((told + told.T) / 2)
        information = np.asarray(directions * np.maximum(share, 0.0) @ directions.T)
        weight = np.linalg.inv(np.eye(len(information)) + information * self.own)
        object.__setattr__(self, "information", information)
        object.__setattr__(self, "of_lesson", weight @ information)
        object.__setattr__(self, "said", weight @ np.linalg.solve(self.covariance, self.found))


def fit_together(fits: Sequence[FlightFit], contacts: Sequence[ContactPrior], setting: Setting) -> list[FlightFit]:
    """Correct each flight of a lesson by what the others say of camera, apparent size, drag and contact.

    Parameters
    ----------
    fits : sequence of n FlightFit
        Each made alone, with the same setting.
    contacts : sequence of n ContactPrior
        With which they were made.
    setting : Setting

    Returns
    -------
    list of n FlightFit
        In the same order. A flight that contradicts the others, or is known too vaguely, is given back as it was.
    """
    habits: dict[bytes, int] = {}  # contact is alike among the swings for which it was expected alike
    views = []
    for fit, contact in zip(fits, contacts, strict=True):
        key = np.concatenate([contact.position_m, contact.position_sd_m]).tobytes()
        views.append(_view(fit, contact, setting, habits.setdefault(key, len(habits))))
    sure = {k for k, fit in enumerate(fits) if fit.exit_speed_sd_mps < VAGUE_SHARE * fit.exit_speed_mps}
    agreeing = _agreeing(views, sure)
    if len(agreeing) < FEWEST_SWINGS:
        return list(fits)
    heard = hear(views, agreeing)
    return [
        _corrected(fit, view, heard.without(view).foretell(view), setting) if index in agreeing else fit
        for index, (fit, view) in enumerate(zip(fits, views, strict=True))
    ]


def _view(fit: FlightFit, contact: ContactPrior, setting: Setting, habit: int) -> SharedView:
    cameras = len(fit.parameters) - CAMERA
    which = np.array([DRAG, *range(SIZE, CAMERA + cameras), 0, 1, 2])
    alone = len(which) - 3
    before, sd = known_beforehand(contact, setting, cameras)[:, which]
    common = [DRAG_COMMON, *[LOOKS_COMMON] * (CAMERA - SIZE), *[CAMERA_COMMON] * cameras, *[PLACE_COMMON] * 3]
    variance, share = sd**2, np.array(common)
    return SharedView(
        which=which,
        slots=np.concatenate([np.arange(alone), alone + 3 * habit + np.arange(3)]),
        found=fit.parameters[which] - before,
        covariance=fit.parameter_covariance[np.ix_(which, which)],
        common=variance * share,
        own=variance * (1 - share),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """What some swings together say of a lesson's values, beside what was known beforehand."""

    information: Floats  # (l, l)
    said: Floats  # (l,)

    def without(self, view: SharedView) -> "Heard":
        """The same but for one of these swings. To take it away again costs less than to add up all the others."""
        information, said = self.information.copy(), self.said.copy()
        information[np.ix_(view.slots, view.slots)] -= view.of_lesson
        said[view.slots] -= view.said
        return Heard(information, said)

    def foretell(self, of: SharedView) -> tuple[Floats, Floats]:
        """Mean (q,) and covariance (q, q) of a further swing's shared quantities."""
        spread = np.linalg.inv((self.information + self.information.T) / 2)
        mean: Floats = (spread @ self.said)[of.slots]
        return mean, np.asarray(spread[np.ix_(of.slots, of.slots)] + np.diag(of.own))


def hear(views: Sequence[SharedView], among: set[int]) -> Heard:
    """What the swings ``among`` say together."""
    count = 1 + max(int(view.slots.max()) for view in views)
    common = np.ones(count)
    for view in views:
        common[view.slots] = view.common
    information, said = np.diag(1 / common), np.zeros(count)
    for index in sorted(among):
        view = views[index]
        information[np.ix_(view.slots, view.slots)] += view.of_lesson
        said[view.slots] += view.said
    return Heard(information, said)


def _agreeing(views: Sequence[SharedView], among: set[int]) -> set[int]:
    """Those of some swings that agree; the one that departs most from what the others foretell goes first."""
    among = set(among)
    while len(among) >= FEWEST_SWINGS:
        heard = hear(views, among)
        departures = {k: _departure(views[k], *heard.without(views[k]).foretell(views[k])) for k in among}
        worst = max(departures, key=lambda index: departures[index])
        if departures[worst] <= CONFLICT_Z:
            break
        among.remove(worst)
    return among


def _departure(view: SharedView, mean: Floats, covariance: Floats) -> float:
    """By how many sd the worst of a swing's findings differs from what the others foretell."""
    told = view.information
    gain = view.covariance @ told
    spread = gain @ covariance @ gain.T + gain @ view.covariance
    sd = np.sqrt(np.maximum(np.diag(spread), 1e-6 * (view.common + view.own)))
    return float(np.max(np.abs(view.found - gain @ mean) / sd))


def _corrected(fit: FlightFit, view: SharedView, foretold: tuple[Floats, Floats], setting: Setting) -> FlightFit:
    """The fit with what the others foretell in place of what was known beforehand."""
    which, alone, others = view.which, np.linalg.inv(view.covariance), np.linalg.inv(foretold[1])
    spread = np.linalg.inv(alone - np.diag(1 / (view.common + view.own)) + others)
    found = spread @ (alone @ view.found + others @ foretold[0])
    follow = fit.parameter_covariance[:, which] @ alone  # how all parameters move with the shared ones
    change = follow @ (found - view.found)
    return replace(
        fit,
        parameters=fit.parameters + change,
        parameter_covariance=fit.parameter_covariance + follow @ (spread - view.covariance) @ follow.T,
        camera_parameters=fit.camera_parameters + camera_basis(setting.camera.covariance) @ change[CAMERA:],
    )
