"""Least-squares adjustment of one camera to marks, with priors on the lens and an honest covariance.

Unknowns, in the order of ``PARAMETERS`` without the readout: rotation vector, lens centre, natural logarithm of the
focal length (its prior is a share, and it stays positive), k1, principal point.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from balltrack.camera.model import depths_m, project_parameters
from balltrack.camera.pose import is_upright, starting_poses
from balltrack.camera.sightings import Sightings
from balltrack.units import Floats

UNKNOWNS = 10
LOG_FOCAL = 6
STEPS = np.array([1e-6] * 3 + [1e-6] * 3 + [1e-7, 1e-6, 1e-3, 1e-3])  # central differences, error below 1e-7 px
LOST_PX = 1e4  # residual of a mark that a trial pose puts behind the lens: far worse than any in the picture
# Trust in the expected mark noise, in degrees of freedom: as much as four marks' worth of residuals say.
NOISE_PRIOR_DOF = 8.0
# How far chalk lies off its place, one standard deviation along x or y, before it is seen: some fields use a template,
# some string and eye: common practice, no source. Plate and chalk together tell which.
LAID_SD_M, LAID_SD_LOG = 0.007, 0.9
LAID_SDS_M = np.geomspace(0.001, 0.05, 12)
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
    noise_ratio: float  # of the marks' noise to the expected one, from both and the residuals
    expected_sd_px: float  # root mean square of what was expected of the marks, chalk's own doubt included
    chi_square: float  # of the residuals, in expected variances
    laid_sd_m: float  # how far chalk lies off its place
    degrees: float  # of freedom that the residuals have
    score: float  # minus twice the log posterior, up to a constant: the lower, the better

    @property
    def mark_sd_px(self) -> float:
        """Noise of a mark along u or v. [px]"""
        return self.noise_ratio * self.expected_sd_px

    @property
    def rms_px(self) -> float:
        """Root mean square distance between marked and projected pixels. [px]"""
        return float(np.sqrt(np.mean(np.sum(self.residuals_px**2, axis=1))))


def adjust_all(seen: Sightings, priors: Priors) -> list[Fit]:
    """Adjust from every promising starting pose, as a small flat target may fit several.

    Returns
    -------
    list of Fit
        The distinct poses, best first: upright, above ground, all points in front of the lens.
    """
    starts = starting_poses(seen.points_field_m, seen.pixels, priors.start_focals_px, priors.mean[8:10])
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
        fit = _adjust(seen, priors, unknowns)
        if _possible(seen.points_field_m, fit) and all(_distinct(fit, other) for other in fits):
            fits.append(fit)
    return sorted(fits, key=lambda fit: fit.score)


def _possible(points_field_m: Floats, fit: Fit) -> bool:
    above_ground = fit.parameters[5] > 0.0
    in_front = np.all(depths_m(points_field_m, fit.parameters) > 0.0)
    return bool(above_ground and in_front and is_upright(fit.parameters))


def _adjust(seen: Sightings, priors: Priors, unknowns: Floats) -> Fit:
    """Alternate between the camera and the noise; three rounds settle the noise to a few parts in a thousand."""
    ratio, laid_sd_m = 1.0, LAID_SD_M
    for turn in range(3):
        if turn and seen.laid.any():
            laid_sd_m = _likeliest_laid_sd_m(seen, priors, unknowns)
        whiten = _whiteners(seen.covariances_px2(_parameters(unknowns), laid_sd_m))
        unknowns, covariance = _least_squares(seen, priors, unknowns, whiten / ratio)
        misfit_px = seen.pixels - _project(seen.points_field_m, unknowns)
        # Parameters that the marks themselves pay for: trace of (data information) x (posterior covariance).
        spent = UNKNOWNS - np.sum(np.diag(covariance) / priors.sd**2)
        chi_square = float(np.sum(_apply(whiten, np.nan_to_num(misfit_px, nan=LOST_PX)) ** 2))
        degrees = misfit_px.size - spent
        # Mean of the scaled inverse chi-square posterior (Gelman et al., Bayesian Data Analysis, 3rd ed., eq. 3.8 ff.).
        ratio = float(np.sqrt((NOISE_PRIOR_DOF + chi_square) / (NOISE_PRIOR_DOF + max(degrees, 0.0))))
    score = _score(chi_square, misfit_px.size) + _prior_cost(priors, unknowns) + priors.cost
    score += _laid_cost(seen, unknowns, laid_sd_m) - _laid_cost(seen, unknowns, LAID_SD_M)
    parameters = _parameters(unknowns)
    variances = np.trace(seen.covariances_px2(parameters, laid_sd_m), axis1=1, axis2=2) / 2
    expected_sd_px = float(np.sqrt(np.mean(variances)))
    return Fit(parameters, covariance, misfit_px, ratio, expected_sd_px, chi_square, laid_sd_m, float(degrees), score)


def _least_squares(seen: Sightings, priors: Priors, unknowns: Floats, whiten: Floats) -> tuple[Floats, Floats]:
    """The unknowns adjusted, and their covariance, with (n, 2, 2) ``whiten`` taking misfits to unit noise."""
    known = np.flatnonzero(np.isfinite(priors.sd))
    prior_rows = np.zeros((len(known), UNKNOWNS))
    prior_rows[np.arange(len(known)), known] = 1.0 / priors.sd[known]

    def residuals(x: Floats) -> Floats:
        misfit = _apply(whiten, np.nan_to_num(_project(seen.points_field_m, x) - seen.pixels, nan=LOST_PX))
        return np.concatenate([misfit.ravel(), (x[known] - priors.mean[known]) / priors.sd[known]])

    def jacobian(x: Floats) -> Floats:
        return np.vstack([_white_slopes(seen, x, whiten), prior_rows])

    result = least_squares(residuals, unknowns, jacobian, method="lm", x_scale=np.abs(STEPS) * 1e4, max_nfev=200)
    slopes = jacobian(result.x)
    return result.x, np.asarray(np.linalg.pinv(slopes.T @ slopes, hermitian=True), float)


def _likeliest_laid_sd_m(seen: Sightings, priors: Priors, unknowns: Floats) -> float:
    """How far chalk lies off its place, by the evidence: the camera, near where it stands, integrated out."""
    misfit_px = np.nan_to_num(seen.pixels - _project(seen.points_field_m, unknowns), nan=LOST_PX)
    information = np.diag(priors.sd**-2)
    pull = (priors.mean - unknowns) / priors.sd**2
    costs = []
    for laid_sd_m in LAID_SDS_M:
        whiten = _whiteners(seen.covariances_px2(_parameters(unknowns), laid_sd_m))
        slopes, white = _white_slopes(seen, unknowns, whiten), _apply(whiten, misfit_px).ravel()
        total = slopes.T @ slopes + information
        step = np.linalg.pinv(total, hermitian=True) @ (slopes.T @ white + pull)
        cost = _score(float(np.sum((white - slopes @ step) ** 2)), white.size) + _prior_cost(priors, unknowns + step)
        costs.append(cost + _laid_cost(seen, unknowns, laid_sd_m) + np.linalg.slogdet(total)[1])
    return float(LAID_SDS_M[int(np.argmin(costs))])


def _score(chi_square: float, size: int) -> float:
    """Noise integrated out of its inverse chi-square prior leaves Student's t for the residuals."""
    return float((NOISE_PRIOR_DOF + size) * np.log1p(chi_square / NOISE_PRIOR_DOF))


def _prior_cost(priors: Priors, unknowns: Floats) -> float:
    known = np.isfinite(priors.sd)
    off = (unknowns[known] - priors.mean[known]) / priors.sd[known]
    return float(np.sum(off**2 + 2.0 * np.log(priors.sd[known])))


def _laid_cost(seen: Sightings, unknowns: Floats, laid_sd_m: float) -> float:
    """Minus twice the log of how plausible chalk so laid is, with what it widens the marks' distribution."""
    if not seen.laid.any():
        return 0.0
    widened = np.linalg.slogdet(seen.covariances_px2(_parameters(unknowns), laid_sd_m))[1]
    return float(np.sum(widened) + (np.log(laid_sd_m / LAID_SD_M) / LAID_SD_LOG) ** 2)


def _whiteners(covariances: Floats) -> Floats:
    """(n, 2, 2) that take misfits of such covariances to unit ones."""
    return np.asarray(np.linalg.inv(np.linalg.cholesky(covariances)), float)


def _apply(matrices: Floats, vectors: Floats) -> Floats:
    return np.asarray(np.einsum("nij,nj->ni", matrices, vectors), float)


def _white_slopes(seen: Sightings, unknowns: Floats, whiten: Floats) -> Floats:
    slopes = _slopes(seen.points_field_m, unknowns).reshape(-1, 2, UNKNOWNS)
    return np.asarray((whiten @ slopes).reshape(-1, UNKNOWNS), float)


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
