"""Least-squares adjustment of one camera to marks, with priors on the lens and an honest covariance.

Unknowns, in the order of ``PARAMETERS`` without the readout: rotation vector, lens centre, natural logarithm of the
focal length (its prior is a share, and it stays positive), k1, principal point.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from balltrack.camera.model import depths_m, project_parameters
from balltrack.camera.pose import is_upright, starting_poses
from balltrack.units import Floats

UNKNOWNS = 10
LOG_FOCAL = 6
STEPS = np.array([1e-6] * 3 + [1e-6] * 3 + [1e-7, 1e-6, 1e-3, 1e-3])  # central differences, error below 1e-7 px
LOST_PX = 1e4  # residual of a mark that a trial pose puts behind the lens: far worse than any in the picture
# Trust in the expected mark noise, in degrees of freedom: as much as four marks' worth of residuals say.
NOISE_PRIOR_DOF = 8.0
REFINED_STARTS = 5
HOPELESS_RATIO = (
    4.0  # starts that miss by more than this times the best one's misfit (and the expected noise) are dropped
)


@dataclass(frozen=True, slots=True, eq=False)
class Priors:
    """What holds before the marks: means and standard deviations of the unknowns, and the expected mark noise."""

    mean: Floats  # (10,)
    sd: Floats  # (10,) inf for the pose
    mark_sd_px: float
    start_focals_px: Floats  # (m,) where to start from
    cost: float  # minus twice the log of how plausible it was that these priors hold


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A camera adjusted to marks."""

    parameters: Floats  # (11,) in the order of PARAMETERS, readout 0
    covariance: Floats  # (10, 10) of the unknowns, log focal length
    residuals_px: Floats  # (n, 2) marked minus projected
    mark_sd_px: float  # noise along u or v, from the expected one and the residuals
    degrees: float  # of freedom that the residuals have
    score: float  # minus twice the log posterior, up to a constant: the lower, the better

    @property
    def rms_px(self) -> float:
        """Root mean square distance between marked and projected pixels. [px]"""
        return float(np.sqrt(np.mean(np.sum(self.residuals_px**2, axis=1))))


def adjust_all(points_field_m: Floats, pixels: Floats, priors: Priors) -> list[Fit]:
    """Adjust from every promising starting pose, as a small flat target may fit several.

    Parameters
    ----------
    points_field_m : (n, 3) array
        [m]
    pixels : (n, 2) array
        [px]
    priors : Priors

    Returns
    -------
    list of Fit
        The distinct poses, best first: upright, above ground, all points in front of the lens.
    """
    starts = starting_poses(points_field_m, pixels, priors.start_focals_px, priors.mean[8:10])
    chosen: list[Floats] = []
    for start in starts:
        if start.rms_px > HOPELESS_RATIO * (starts[0].rms_px + priors.mark_sd_px):
            break
        unknowns = _unknowns(start.parameters)
        if all(_apart(unknowns, other) for other in chosen):
            chosen.append(unknowns)
        if len(chosen) == REFINED_STARTS:
            break
    fits: list[Fit] = []
    for unknowns in chosen:
        fit = _adjust(points_field_m, pixels, priors, unknowns)
        if _possible(points_field_m, fit) and all(_distinct(fit, other) for other in fits):
            fits.append(fit)
    return sorted(fits, key=lambda fit: fit.score)


def _possible(points_field_m: Floats, fit: Fit) -> bool:
    above_ground = fit.parameters[5] > 0.0
    in_front = np.all(depths_m(points_field_m, fit.parameters) > 0.0)
    return bool(above_ground and in_front and is_upright(fit.parameters))


def _adjust(points_field_m: Floats, pixels: Floats, priors: Priors, unknowns: Floats) -> Fit:
    """Alternate between the camera and the mark noise; three rounds settle the noise to a few parts in a thousand."""
    known = np.flatnonzero(np.isfinite(priors.sd))
    prior_rows = np.zeros((len(known), UNKNOWNS))
    prior_rows[np.arange(len(known)), known] = 1.0 / priors.sd[known]
    sd_px = priors.mark_sd_px

    def residuals(x: Floats) -> Floats:
        misfit = np.nan_to_num((_project(points_field_m, x) - pixels) / sd_px, nan=LOST_PX / sd_px)
        return np.concatenate([misfit.ravel(), (x[known] - priors.mean[known]) / priors.sd[known]])

    def jacobian(x: Floats) -> Floats:
        return np.vstack([_slopes(points_field_m, x) / sd_px, prior_rows])

    for _ in range(3):
        result = least_squares(residuals, unknowns, jacobian, method="lm", x_scale=np.abs(STEPS) * 1e4, max_nfev=200)
        unknowns = result.x
        misfit_px = pixels - _project(points_field_m, unknowns)
        slopes = jacobian(unknowns)
        covariance: Floats = np.linalg.pinv(slopes.T @ slopes, hermitian=True).astype(float)
        # Parameters that the marks themselves pay for: trace of (data information) x (posterior covariance).
        spent = UNKNOWNS - np.sum(np.diag(covariance)[known] / priors.sd[known] ** 2)
        rss = float(np.nan_to_num(np.sum(misfit_px**2), nan=LOST_PX**2))
        degrees = misfit_px.size - spent
        # Mean of the scaled inverse chi-square posterior (Gelman et al., Bayesian Data Analysis, 3rd ed., eq. 3.8 ff.).
        variance = (NOISE_PRIOR_DOF * priors.mark_sd_px**2 + rss) / (NOISE_PRIOR_DOF + max(degrees, 0.0))
        sd_px = float(np.sqrt(variance))
    # Noise integrated out of its inverse chi-square prior leaves Student's t for the residuals.
    score = (NOISE_PRIOR_DOF + misfit_px.size) * np.log1p(rss / (NOISE_PRIOR_DOF * priors.mark_sd_px**2))
    score += np.sum(((unknowns[known] - priors.mean[known]) / priors.sd[known]) ** 2 + 2.0 * np.log(priors.sd[known]))
    return Fit(_parameters(unknowns), covariance, misfit_px, sd_px, float(degrees), float(score) + priors.cost)


def foreseen_covariance(points_field_m: Floats, parameters: Floats, priors: Priors) -> Floats:
    """(10, 10) covariance of the unknowns that an adjustment to such marks will state on average.

    Parameters
    ----------
    points_field_m : (n, 3) array
        Marks that will be seen. [m]
    parameters : (11,) array
        The camera as it will stand, in the order of PARAMETERS.
    priors : Priors
        With the noise that the marks will have.
    """
    slopes = _slopes(points_field_m, _unknowns(parameters)) / priors.mark_sd_px
    information = slopes.T @ slopes + np.diag(priors.sd**-2)
    return np.asarray(np.linalg.pinv(information, hermitian=True), float)


def _slopes(points_field_m: Floats, unknowns: Floats) -> Floats:
    """(2n, 10) central differences of the pixels, all unknowns in one batch."""
    shifts = np.diag(STEPS)
    high = _project(points_field_m, unknowns + shifts)
    low = _project(points_field_m, unknowns - shifts)
    slopes = (high - low) / (2.0 * STEPS[:, None, None])
    return np.nan_to_num(slopes.reshape(UNKNOWNS, -1).T)


def _project(points_field_m: Floats, unknowns: Floats) -> Floats:
    return project_parameters(points_field_m, _parameters(unknowns))


def _parameters(unknowns: Floats) -> Floats:
    """(..., 10) unknowns to (..., 11) camera parameters with readout 0."""
    parameters = np.concatenate([unknowns, np.zeros((*unknowns.shape[:-1], 1))], axis=-1)
    parameters[..., LOG_FOCAL] = np.exp(np.clip(unknowns[..., LOG_FOCAL], -20.0, 20.0))
    return parameters


def _unknowns(parameters: Floats) -> Floats:
    unknowns = parameters[:UNKNOWNS].copy()
    unknowns[LOG_FOCAL] = np.log(parameters[LOG_FOCAL])
    return unknowns


def _apart(a: Floats, b: Floats) -> bool:
    """Whether two starts differ by more than three degrees or a quarter of the focal length."""
    shift = np.abs(a - b)
    return bool(np.max(shift[:3]) > 0.05 or shift[LOG_FOCAL] > 0.25)


def _distinct(a: Fit, b: Fit) -> bool:
    """Whether two fits are different minima, not one reached twice."""
    return bool(np.linalg.norm(a.parameters[3:6] - b.parameters[3:6]) > 0.02)
