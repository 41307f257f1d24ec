"""From marks to a camera: tell wrong marks and a wrong lens apart from good ones, then adjust to the good ones.

Several explanations compete: all marks right; one or a few wrong; two names exchanged; each with the stated lens or
with a lens of any phone. Each is adjusted and scored by minus twice its log posterior, and the lowest score wins.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from balltrack.camera.adjust import LOG_FOCAL, UNKNOWNS, Fit, Priors, adjust_all, foreseen_covariance
from balltrack.camera.marks import (
    ADVICE,
    DEFAULT_FOCAL_SD_SHARE,
    FEWEST_MARKS,
    ON_ONE_LINE_M,
    LensPrior,
    Mark,
    ReadoutPrior,
    check_marks,
    spread_about_line_m,
)
from balltrack.camera.model import PARAMETERS, Camera, focal_of_fov_px, fov_of_focal_rad, project
from balltrack.camera.pose import starting_poses
from balltrack.camera.sightings import Sightings, sightings
from balltrack.errors import CalibrationError
from balltrack.units import Floats

MARK_SD_SHARE = 0.8 / 1920  # of the longer side: 0.8 px at 1080p, a careful click on a chalk edge (no source)
PHONE_FOV_DEG = 62.0  # main cameras, along the longer side: 55 to 74 degrees (iPhone 4S to 24 mm equivalents)
PHONE_FOCAL_SD_LOG = 0.3  # one standard deviation of the log focal length: 46 to 79 degrees
SCANNED_FOVS_DEG = np.linspace(35.0, 100.0, 11)
CENTRE_SD_SHARE = 0.005  # of the longer side: how far phone lenses sit off the sensor's middle, about 10 px at 1080p

# Minus twice the log of prior odds.
# A wrong mark: about one in twenty, then anywhere within 100 px: 2 ln 20 + 2 ln(200² / (2 pi 0.64)), rounded.
WRONG_MARK_COST = 25.0
EXCHANGED_COST = 12.0  # two names exchanged: one pair in four hundred, 2 ln 400
LOOSE_FOCAL_COST = 6.0  # a stated field of view that does not hold: one in twenty
EXCHANGES_ADJUSTED = 3  # of the pairs whose starting poses fit best
CLEAR_MARGIN = 6.0  # odds of 20 to 1 between rival explanations

WORST_NOISE_RATIO = 8.0  # marks that miss by more than this times the expected noise give no camera
POOR_NOISE_RATIO = 2.5
LOOSE_FOCAL_SHARE = 0.06
FEWEST_DEGREES = 1.5  # of freedom: four marks on an unknown lens leave about 1, five about 3
LOOSE_PLACE_SHARE = 0.5  # of the distance to the nearest mark

NO_POSE = (
    "no upright camera above the ground sees the marks so; check their names, and mark them on the upright picture"
)


@dataclass(frozen=True, slots=True, eq=False)
class SolvedCamera:
    """A camera, and how well the marks agree with it."""

    camera: Camera
    residuals_px: Floats  # (n, 2) marked minus projected, all marks in their order, left-out ones too
    rejected: tuple[str, ...]  # names of marks that were left out
    warnings: tuple[str, ...]
    mark_sd_px: float  # noise of a mark along u or v, from the expected one and the residuals


@dataclass(frozen=True, slots=True, eq=False)
class _Story:
    """One explanation of the marks: which are wrong or exchanged, which priors hold, and the fits, best first."""

    fits: tuple[Fit, ...]
    left_out: tuple[int, ...] = ()
    exchanged: tuple[int, int] | None = None
    mirrored: bool = False
    loosened: bool = False
    cost: float = 0.0

    @property
    def score(self) -> float:
        return self.fits[0].score + self.cost if self.fits else np.inf


def solve(
    marks: Sequence[Mark],
    size_px: tuple[int, int],
    lens: LensPrior | None = None,
    readout: ReadoutPrior | None = None,
    mark_sd_px: float | None = None,
) -> SolvedCamera:
    """Solve a fixed camera from marks.

    Parameters
    ----------
    marks : sequence of Mark
        At least 4, not on one line. Far marks count as much as near ones.
    size_px : (int, int)
        Width and height of the upright frame.
    lens : LensPrior, optional
        Without: any phone's.
    readout : ReadoutPrior, optional
        Marks stand still and say nothing of it; it is passed on. Without: 12 +- 6 ms.
    mark_sd_px : float, optional
        Expected noise along u or v of a mark that states none. Without: 0.8 px at 1080p, in proportion to the longer
        side. The noise used is this one, with the weight of 8 degrees of freedom, averaged with what the residuals
        show. A mark on chalk that states its own is besides off its place by what the marks show of the chalk.

    Returns
    -------
    SolvedCamera

    Raises
    ------
    CalibrationError
        Where the marks give no camera: too few, on one line, doubled, outside the picture, contradictory, below
        ground. The message says what to do.
    """
    check_marks(marks, size_px)
    lens = lens or LensPrior()
    all_priors = _all_priors(lens, size_px, mark_sd_px)
    story = _without_the_exchanged(_best_story(marks, all_priors), marks, all_priors)
    fit = story.fits[0]
    camera = _camera(fit, size_px, readout or ReadoutPrior())
    seen = sightings(marks, all_priors[0].mark_sd_px)
    residuals_px = seen.pixels - project(seen.points_field_m, camera)
    _check_quality(fit, seen.without(story.left_out).points_field_m)
    return SolvedCamera(
        camera,
        residuals_px,
        tuple(marks[i].name for i in story.left_out),
        (
            *_mark_warnings(story, marks, residuals_px),
            *_lens_warnings(story, lens, size_px),
            *_fit_warnings(story),
        ),
        fit.mark_sd_px,
    )


def foresee(
    parameters: Floats,
    points_field_m: Floats,
    size_px: tuple[int, int],
    lens: LensPrior | None = None,
    readout: ReadoutPrior | None = None,
) -> Camera:
    """A camera that will stand somewhere, with the covariance that `solve` will state from marks seen there.

    Parameters
    ----------
    parameters : (11,) array
        The camera as it will be, in the order of ``PARAMETERS``; its readout is that of ``readout``.
    points_field_m : (n, 3) array
        What will be marked, each with the usual noise. [m]
    size_px, lens, readout
        As for `solve`.
    """
    priors = _all_priors(lens or LensPrior(), size_px, None)[0]
    expected = foreseen_covariance(points_field_m, parameters, priors)
    misses = np.zeros((len(points_field_m), 2))
    fit = Fit(parameters, expected, misses, 1.0, priors.mark_sd_px, 0.0, 0.0, 0.0, 0.0)
    return _camera(fit, size_px, readout or ReadoutPrior())


def _all_priors(lens: LensPrior, size_px: tuple[int, int], mark_sd_px: float | None) -> tuple[Priors, ...]:
    """The stated lens first where there is one, then that of any phone."""
    longer = max(size_px)
    mean, sd = np.zeros(UNKNOWNS), np.full(UNKNOWNS, np.inf)
    mean[7:] = lens.k1, *(lens.centre_px or (0.5 * (size_px[0] - 1), 0.5 * (size_px[1] - 1)))
    sd[7:] = CENTRE_SD_SHARE * longer if lens.centre_sd_px is None else lens.centre_sd_px
    sd[7] = lens.k1_sd
    mean[LOG_FOCAL], sd[LOG_FOCAL] = np.log(focal_of_fov_px(np.radians(PHONE_FOV_DEG), longer)), PHONE_FOCAL_SD_LOG
    scan = np.array([focal_of_fov_px(fov, longer) for fov in np.radians(SCANNED_FOVS_DEG)])
    phone = Priors(mean, sd, MARK_SD_SHARE * longer if mark_sd_px is None else mark_sd_px, scan, 0.0)
    if lens.focal_px is None:
        return (phone,)
    share = DEFAULT_FOCAL_SD_SHARE if lens.focal_sd_px is None else lens.focal_sd_px / lens.focal_px
    stated_mean, stated_sd = mean.copy(), sd.copy()
    stated_mean[LOG_FOCAL], stated_sd[LOG_FOCAL] = np.log(lens.focal_px), share
    stated = replace(phone, mean=stated_mean, sd=stated_sd, start_focals_px=np.array([lens.focal_px]))
    return stated, replace(phone, cost=LOOSE_FOCAL_COST)


def _best_story(marks: Sequence[Mark], all_priors: tuple[Priors, ...]) -> _Story:
    """Try the plain story first; only where it does not hold, the others."""
    seen = sightings(marks, all_priors[0].mark_sd_px)
    stories = [_Story(tuple(adjust_all(seen, priors)), loosened=i > 0) for i, priors in enumerate(all_priors)]
    if _holds(stories[0]) and stories[0].score <= min(story.score for story in stories):
        return stories[0]
    for priors, plain in zip(all_priors, tuple(stories), strict=True):
        mirrored = tuple(adjust_all(seen.mirrored(), priors))
        stories.append(_Story(mirrored, mirrored=True, loosened=plain.loosened, cost=EXCHANGED_COST))
        if _holds(stories[-1]):
            break  # nothing else explains as much at once
        stories += _wrong_mark_stories(seen, priors, plain)
        stories += _exchanged_stories(seen, priors, plain)
    best = min(stories, key=lambda story: story.score)
    if not best.fits:
        raise CalibrationError(NO_POSE)
    if best.mirrored:
        raise CalibrationError(
            "the marks fit only with left and right exchanged; left and right are the catcher's, looking to the pitcher"
        )
    _check_clear(best, stories, marks)
    return best


def _check_clear(best: _Story, stories: Sequence[_Story], marks: Sequence[Mark]) -> None:
    """Raise where something is wrong, but other stories that blame something else fit about as well."""
    blamed = _blamed(best, marks)
    near = [_blamed(story, marks) for story in stories if story.score < best.score + CLEAR_MARGIN]
    rivals = set().union(*(other for other in near if not blamed <= other))
    if blamed and rivals:
        raise CalibrationError(
            f"the camera marks contradict each other: one of {', '.join(sorted(blamed | rivals))} is wrong, but not "
            "which can be told; check each against the picture, or add marks"
        )
    # Four marks are fitted by one lens or another whatever they say.
    if best.loosened and best.fits[0].degrees < FEWEST_DEGREES:
        raise CalibrationError(
            f"the {len(best.fits[0].residuals_px)} camera marks contradict the stated field of view and are too few to "
            "tell whether it or a mark is wrong; check both, or add marks"
        )


def _blamed(story: _Story, marks: Sequence[Mark]) -> set[str]:
    """What a story says is wrong."""
    return {f"'{marks[i].name}'" for i in story.left_out} | ({"the stated field of view"} if story.loosened else set())


def _without_the_exchanged(story: _Story, marks: Sequence[Mark], all_priors: tuple[Priors, ...]) -> _Story:
    """Adjust anew without the marks that are left out, where enough remain."""
    if not story.left_out:
        return story
    seen = sightings(marks, all_priors[0].mark_sd_px).without(story.left_out)
    if len(seen.pixels) < FEWEST_MARKS or spread_about_line_m(seen.points_field_m) < ON_ONE_LINE_M:
        names = " and ".join(f"'{marks[i].name}'" for i in story.left_out)
        what = "look exchanged; exchange them" if story.exchanged else "looks wrong; mark it anew"
        raise CalibrationError(f"{names} {what}: too few good camera marks remain without ({len(seen.pixels)})")
    fits = tuple(adjust_all(seen, all_priors[-1] if story.loosened else all_priors[0]))
    if not fits:
        raise CalibrationError(NO_POSE)
    return replace(story, fits=fits)


def _holds(story: _Story) -> bool:
    """Whether the marks agree with a fit as well as their expected noise allows (four standard deviations)."""
    if not story.fits:
        return False
    fit = story.fits[0]
    return bool(fit.chi_square < fit.degrees + 4.0 * np.sqrt(2.0 * max(fit.degrees, 1.0)))


def _wrong_mark_stories(seen: Sightings, priors: Priors, plain: _Story) -> list[_Story]:
    """Leave out one mark after the other, each time the one whose absence helps most."""
    count = len(seen.pixels)
    stories: list[_Story] = []
    left_out: tuple[int, ...] = ()
    score = plain.score
    for _ in range(max(1, (count - FEWEST_MARKS) // 3)):
        if count - len(left_out) <= FEWEST_MARKS:
            break
        step = []
        for i in sorted(set(range(count)) - set(left_out)):
            out = (*left_out, i)
            fits = tuple(adjust_all(seen.without(out), priors))
            step.append(_Story(fits, out, loosened=plain.loosened, cost=WRONG_MARK_COST * len(out)))
        stories += step
        best = min(step, key=lambda story: story.score)
        if best.score >= score:
            break
        left_out, score = best.left_out, best.score
    return stories


def _exchanged_stories(seen: Sightings, priors: Priors, plain: _Story) -> list[_Story]:
    """Exchange the pixels of two marks; where that explains everything, both are to be left out."""
    if plain.fits:
        focals_px = plain.fits[0].parameters[LOG_FOCAL : LOG_FOCAL + 1]
    else:
        focals_px = np.exp(priors.mean[LOG_FOCAL : LOG_FOCAL + 1])
    promising = []
    for pair in combinations(range(len(seen.pixels)), 2):
        other = seen.exchanged(pair)
        starts = starting_poses(other.points_field_m, other.pixels, focals_px, priors.mean[8:10])
        promising += [(starts[0].rms_px, pair)] if starts else []
    stories = []
    for _, pair in sorted(promising)[:EXCHANGES_ADJUSTED]:
        fits = tuple(adjust_all(seen.exchanged(pair), priors))
        stories.append(_Story(fits, pair, pair, loosened=plain.loosened, cost=EXCHANGED_COST))
    return stories


def _camera(fit: Fit, size_px: tuple[int, int], readout: ReadoutPrior) -> Camera:
    """Turn the log focal length into pixels, and append the readout."""
    parameters = fit.parameters.copy()
    parameters[-1] = readout.readout_s
    scale = np.ones(UNKNOWNS)
    scale[LOG_FOCAL] = parameters[LOG_FOCAL]
    covariance = np.zeros((len(PARAMETERS), len(PARAMETERS)))
    covariance[:UNKNOWNS, :UNKNOWNS] = fit.covariance * np.outer(scale, scale)
    covariance[-1, -1] = readout.sd_s**2
    return Camera(parameters, covariance, size_px)


def _check_quality(fit: Fit, points_field_m: Floats) -> None:
    if fit.noise_ratio > WORST_NOISE_RATIO:
        raise CalibrationError(
            f"the camera marks miss by {fit.rms_px:.1f} px (about {fit.expected_sd_px:.1f} px expected) and no single "
            "one explains it; check every name and pixel, and the field's sizes"
        )
    distance_m = float(np.min(np.linalg.norm(points_field_m - fit.parameters[3:6], axis=1)))
    place_sd_m = float(np.sqrt(np.linalg.eigvalsh(fit.covariance[3:6, 3:6])[-1]))
    if place_sd_m > LOOSE_PLACE_SHARE * distance_m:
        raise CalibrationError(
            f"the marks leave the camera's place open by {place_sd_m:.1f} m (nearest mark {distance_m:.1f} m away); "
            f"state horizontal_fov_deg, or {ADVICE}, far from the others"
        )


def _mark_warnings(story: _Story, marks: Sequence[Mark], residuals_px: Floats) -> list[str]:
    misfits = {i: float(np.hypot(*residuals_px[i])) for i in story.left_out}
    if story.exchanged:
        i, j = story.exchanged
        return [
            f"camera marks '{marks[i].name}' and '{marks[j].name}' look exchanged (they miss by {misfits[i]:.0f} and "
            f"{misfits[j]:.0f} px) and are left out; exchange them"
        ]
    return [
        f"camera mark '{marks[i].name}' misses by {misfits[i]:.1f} px and is left out; mark it anew" for i in misfits
    ]


def _lens_warnings(story: _Story, lens: LensPrior, size_px: tuple[int, int]) -> list[str]:
    fit = story.fits[0]
    focal_px, share = float(fit.parameters[LOG_FOCAL]), float(np.sqrt(fit.covariance[LOG_FOCAL, LOG_FOCAL]))
    lines = []
    if story.loosened and lens.focal_px is not None:
        stated, seen = (np.degrees(fov_of_focal_rad(f, size_px[0])) for f in (lens.focal_px, focal_px))
        lines.append(
            f"the stated lens ({lens.focal_px:.0f} px, {stated:.1f} degrees across) contradicts the marks, which say "
            f"{focal_px:.0f} +- {focal_px * share:.0f} px ({seen:.1f} degrees); the marks were believed: check the "
            "field of view for this video mode"
        )
    if share > LOOSE_FOCAL_SHARE:
        lines.append(
            f"the marks give the focal length only to {100 * share:.0f} %; state horizontal_fov_deg, or mark batter's "
            "box corners and bases too"
        )
    return lines


def _fit_warnings(story: _Story) -> list[str]:
    fit = story.fits[0]
    lines = []
    if fit.noise_ratio > POOR_NOISE_RATIO:
        lines.append(
            f"the camera marks miss by {fit.rms_px:.1f} px, more than the {fit.expected_sd_px:.1f} px expected; "
            "mark them anew at full zoom"
        )
    if len(fit.residuals_px) == FEWEST_MARKS:
        lines.append(f"only {FEWEST_MARKS} camera marks are used, so a wrong one might not show; add marks")
    twins = [other for other in story.fits[1:] if other.score < fit.score + CLEAR_MARGIN]
    for twin in twins[:1]:
        a, b = (f"({p[0]:.1f}, {p[1]:.1f}, {p[2]:.1f}) m" for p in (fit.parameters[3:6], twin.parameters[3:6]))
        lines.append(f"two camera places fit the marks about alike, {a} and {b}; add a mark far from the others")
    return lines
