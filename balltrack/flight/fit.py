"""One swing: from the ball's pixels to its flight, with covariance."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import apparent_diameter_px, project_parameters
from balltrack.errors import FlightError, TooFewFrames
from balltrack.flight.evidence import FLIGHT, ContactPrior, Evidence, Setting, Trust, gather
from balltrack.flight.path import LONGEST_FLIGHT_S, Launch
from balltrack.flight.solver import jacobian, minimise
from balltrack.flight.start import from_launch, guesses
from balltrack.track.ball import BallTrack
from balltrack.units import MPS_PER_MPH, Floats

FEWEST_ROWS = 3
FEWEST_SHARE = 0.6  # of the used rows that must lie on one flight
CAUCHY_SQ = 9.0  # squared miss, in sd, at which a row counts half
OUTLIER_SQ = 16.0  # squared miss beyond which a row is left out: 4 sd, one good row in 3000
MEDIAN_SQ = 1.386  # median of the squared miss of a good row: chi-squared with 2 degrees of freedom, 2 ln 2
# The stated sds count as this many rows' worth of evidence on the noise, so that four rows do not decide it alone.
NOISE_PRIOR = 6.0
LEAST_SCALE = 0.7  # however well the rows fit, noise is not believed to be smaller than this share of the stated
LIMIT_PX = 3.0  # largest believable rms miss, in a picture of 1080 lines
LIMIT_LINES = 1080
SLOWEST_MPS, FASTEST_MPS = 1.0, 65.0  # 2 and 145 mph
MOST_BEGINNINGS = 3
NEAR_SQ, NEAR_SHARE = 900.0, 0.8  # so many of the rows within 30 sd, some ten pixels: no other flight is as near
# Among so few rows one stray can bend the flight until it looks no worse than the others: each is left out in turn.
FEW_ROWS = (5, 10)
ROUNDS = 8  # of weighing rows anew
SETTLED = 0.03  # change of a row's weight that is no longer worth another round
WEIGHING_EVALUATIONS, SETTLING_EVALUATIONS = 30, 300
UNSEEN_SQ = 1e12  # stands for the squared miss of a row whose ball the flight has behind the lens


@dataclass(frozen=True, slots=True, eq=False)
class FlightFit:
    """A fitted flight. Drag and lift are referred to the nominal air density and ball mass."""

    parameters: Floats  # (p,) FLIGHT_PARAMETERS, then those of size, edge and camera: see `evidence`
    parameter_covariance: Floats  # (p, p)
    camera_parameters: Floats  # (11,) the camera as this swing alone would have it
    predicted_px: Floats  # (n, 2) the fitted path at every row of the track, NaN where it cannot be seen
    outlier: NDArray[np.bool_]  # (n,) used rows that do not lie on the flight
    rows_used: int
    residual_px: float  # rms distance of the rows used, the surest counting most
    chi2_per_dof: float  # of the pixels of the rows used, against the stated sds

    @property
    def launch(self) -> Launch:
        """At the instant of contact."""
        found = self.parameters
        return Launch(found[:3], found[3:6], float(found[7]), float(found[8]), float(found[9]))

    @property
    def contact_s(self) -> float:
        """Clip time of contact. [s]"""
        return float(self.parameters[6])

    @property
    def covariance(self) -> Floats:
        """(10, 10), in the order of FLIGHT_PARAMETERS."""
        return self.parameter_covariance[:FLIGHT, :FLIGHT]

    @property
    def exit_speed_mps(self) -> float:
        """Speed at contact. [m/s]"""
        return float(np.linalg.norm(self.launch.velocity_mps))

    @property
    def launch_deg(self) -> float:
        """Angle above the ground at contact. [deg]"""
        return float(np.degrees(speed_and_angles(self.launch.velocity_mps)[1]))

    @property
    def spray_deg(self) -> float:
        """Direction at contact, 0 over second base, positive toward right field. [deg]"""
        return float(np.degrees(speed_and_angles(self.launch.velocity_mps)[2]))

    @property
    def exit_speed_sd_mps(self) -> float:
        """One sd of the exit speed. [m/s]"""
        return float(self._velocity_sd()[0])

    @property
    def launch_sd_deg(self) -> float:
        """One sd of the launch angle. [deg]"""
        return float(np.degrees(self._velocity_sd()[1]))

    @property
    def spray_sd_deg(self) -> float:
        """One sd of the spray direction. [deg]"""
        return float(np.degrees(self._velocity_sd()[2]))

    @property
    def contact_m(self) -> Floats:
        """(3,) centre of the ball at contact, field frame. [m]"""
        return np.asarray(self.launch.position_m)

    @property
    def contact_sd_m(self) -> Floats:
        """(3,) its sd along each axis. [m]"""
        return np.sqrt(np.diag(self.covariance)[:3])

    @property
    def contact_time_sd_s(self) -> float:
        """One sd of the contact time. [s]"""
        return float(np.sqrt(self.covariance[6, 6]))

    def _velocity_sd(self) -> Floats:
        return speed_and_angle_sds(self.launch.velocity_mps, self.covariance[3:6, 3:6])


def seen_at_contact(fit: FlightFit, setting: Setting) -> tuple[Floats, float]:
    """Where the ball is seen at contact, (2,), and its diameter there. [px]"""
    place = fit.contact_m[None]
    width_px = apparent_diameter_px(place, fit.camera_parameters, setting.ball.diameter_m)
    return project_parameters(place, fit.camera_parameters)[0], float(width_px[0])


def fit_flight(track: BallTrack, contact: ContactPrior, setting: Setting, start: Launch | None = None) -> FlightFit:
    """Fit one flight to the used rows of a track.

    Parameters
    ----------
    track : BallTrack
    contact : ContactPrior
    setting : Setting
        Camera, ball and air.
    start : Launch, optional
        A first guess; without it one is made from rays, sizes and gravity.

    Raises
    ------
    FlightError
        If there are fewer than three rows, or no flight of believable speed passes enough of them.
    """
    usable = track.used & np.isfinite(track.centre_px).all(axis=1) & np.isfinite(track.time_s)
    if usable.sum() < FEWEST_ROWS:
        raise TooFewFrames(f"the ball was followed in {usable.sum()} frames, at least {FEWEST_ROWS} are needed")
    evidence = gather(track, contact, setting, usable)
    known = [] if start is None else [from_launch(evidence, start)]
    try:
        found = next((fit for each in known if (fit := _from_near(evidence, each))), None)
        vector, trust = found or _first_believable(evidence, _likeliest_first(evidence, known + guesses(evidence)))
        return _result(evidence, vector, trust, track, usable)
    except np.linalg.LinAlgError:
        raise FlightError(f"the ball's {usable.sum()} places do not determine a flight") from None


def _from_near(evidence: Evidence, beginning: Floats) -> tuple[Floats, Trust] | None:
    """Fit from a flight that passes nearly all rows closely already; None if it does not, or comes to nothing.

    No other guess is made then: they cost more than the fit.
    """
    if np.mean(_misses(evidence, beginning) <= NEAR_SQ) < NEAR_SHARE:
        return None
    try:
        vector, trust = _settle(evidence, beginning, np.ones(len(evidence.time_s), dtype=bool))
        _check(evidence, vector, trust)
    except FlightError:
        return None
    return vector, trust


def _first_believable(evidence: Evidence, beginnings: list[Floats]) -> tuple[Floats, Trust]:
    """Fit from one guess after the other until a flight is found that can be believed."""
    everyone = np.ones(len(evidence.time_s), dtype=bool)
    attempts = [(beginning, everyone) for beginning in beginnings[:MOST_BEGINNINGS]]
    if FEW_ROWS[0] <= len(everyone) <= FEW_ROWS[1]:
        attempts += [(beginnings[0], np.arange(len(everyone)) != row) for row in range(len(everyone))]
    failures: list[FlightError] = []
    for beginning, rows in attempts:
        try:
            vector, trust = _settle(evidence, beginning, rows)
            _check(evidence, vector, trust)
        except FlightError as failure:
            failures.append(failure)
        else:
            return vector, trust
    raise failures[0]


def _likeliest_first(evidence: Evidence, beginnings: list[Floats]) -> list[Floats]:
    """The guesses in order of their robust misfit."""
    blocks = evidence.blocks(np.array(beginnings))
    misses = np.sum(blocks.pixel**2, axis=2)
    costs = np.sum(np.log1p(np.where(np.isfinite(misses), misses, UNSEEN_SQ)), axis=1)
    costs += 0.5 * np.sum(np.log1p(blocks.prior**2), axis=1)
    return [beginnings[k] for k in np.argsort(costs, kind="stable")]


def _settle(evidence: Evidence, vector: Floats, candidates: NDArray[np.bool_]) -> tuple[Floats, Trust]:
    """Fit the candidate rows robustly, then all rows near that flight by plain least squares; learn their noise."""
    vector, inliers = _without_strays(evidence, vector, candidates)
    for _ in range(ROUNDS):
        vector, settled = _approach(evidence, vector, _noise(evidence, vector, inliers), SETTLING_EVALUATIONS)
        trust = _noise(evidence, vector, inliers)
        near = _misses(evidence, vector) <= OUTLIER_SQ * max(trust.pixel_scale, 1.0) ** 2
        if np.array_equal(near, inliers) or near.sum() < FEWEST_ROWS:
            break
        inliers = near
    if not settled:
        raise FlightError("the fit of a flight to the ball's track does not settle; look at the track for strays")
    return vector, trust


def _without_strays(
    evidence: Evidence, vector: Floats, candidates: NDArray[np.bool_]
) -> tuple[Floats, NDArray[np.bool_]]:
    """A flight through the candidate rows with Cauchy weights, and which rows lie near it."""
    weights = candidates.astype(float)
    for _ in range(ROUNDS):
        vector, _ = _approach(evidence, vector, Trust(weights), WEIGHING_EVALUATIONS)
        misses = _misses(evidence, vector)
        spread = _spread(misses[candidates])
        before, weights = weights, candidates / (1 + misses / (CAUCHY_SQ * spread))
        if np.max(np.abs(weights - before)) < SETTLED:
            break
    return vector, misses <= OUTLIER_SQ * spread


def _approach(evidence: Evidence, vector: Floats, trust: Trust, evaluations: int) -> tuple[Floats, bool]:
    """The best flight for this trust, and whether the search came to rest within so many evaluations."""
    found = minimise(lambda vectors: evidence.blocks(vectors).flat(trust), vector, evidence.scale, evaluations)
    return found.parameters, found.converged


def _misses(evidence: Evidence, vector: Floats) -> Floats:
    """(n,) squared distance of each row from the flight, in sd."""
    misses = np.sum(evidence.blocks(vector[None]).pixel[0] ** 2, axis=1)
    return np.where(np.isfinite(misses), misses, UNSEEN_SQ)


def _spread(misses: Floats) -> float:
    """Variance of the good rows in units of the stated one, from the median; at least 1."""
    freedom = max(1 - 3 / len(misses), 0.25)  # about six of the 2 n numbers are spent on position and velocity
    return max(1.0, float(np.median(misses)) / MEDIAN_SQ / freedom)


def covariance(evidence: Evidence, vector: Floats, trust: Trust) -> tuple[Floats, Floats]:
    """(p, p) covariance at a solution, and the (3 n + q, p) Jacobian of the weighted residuals."""
    slope = jacobian(lambda vectors: evidence.blocks(vectors).flat(trust), vector, evidence.scale)
    scaled = slope * evidence.scale
    return np.linalg.inv(scaled.T @ scaled) * np.outer(evidence.scale, evidence.scale), slope


def _noise(evidence: Evidence, vector: Floats, inliers: NDArray[np.bool_]) -> Trust:
    """Learn how large the noise of centres and diameters is in units of the stated sds.

    Each number that the fit draws from the rows costs one degree of freedom; the share of each group is its
    leverage, the trace of its block of the hat matrix.
    """
    plain = Trust(inliers.astype(float))
    spread, slope = covariance(evidence, vector, plain)
    blocks = evidence.blocks(vector[None])
    leverage = np.einsum("ij,jk,ik->i", slope, spread, slope)
    n = len(inliers)
    sized = inliers & np.isfinite(evidence.diameter_px)
    pixel = _scale(np.sum(blocks.pixel[0][inliers] ** 2), 2 * inliers.sum() - leverage[: 2 * n].sum())
    size = _scale(np.sum(blocks.size[0][sized] ** 2), sized.sum() - leverage[2 * n : 3 * n].sum())
    return Trust(plain.rows, pixel, size, evidence.alike)


def _scale(chi2: float, freedom: float) -> float:
    return max(LEAST_SCALE, float(np.sqrt((chi2 + NOISE_PRIOR) / (max(freedom, 0.0) + NOISE_PRIOR))))


def _check(evidence: Evidence, vector: Floats, trust: Trust) -> None:
    rows, inliers = len(trust.rows), int(trust.rows.sum())
    if inliers < max(FEWEST_ROWS, FEWEST_SHARE * rows):
        raise FlightError(
            f"only {inliers} of {rows} ball positions lie on one flight; look at the track for another ball or a bounce"
        )
    limit_px = LIMIT_PX * evidence.setting.camera.size_px[1] / LIMIT_LINES
    residual_px = _residual_px(evidence, vector, trust)
    if not residual_px <= limit_px:
        raise FlightError(
            f"the best flight misses the ball's track by {residual_px:.1f} px (limit {limit_px:.1f}); "
            "check the camera's marks, and the track for another ball"
        )
    speed_mps = float(np.linalg.norm(vector[3:6]))
    if not SLOWEST_MPS <= speed_mps <= FASTEST_MPS:
        raise FlightError(
            f"the track asks for a ball of {speed_mps / MPS_PER_MPH:.0f} mph, which no batted ball has; "
            "check the camera's marks and the clip's frame rate"
        )


def _residual_px(evidence: Evidence, vector: Floats, trust: Trust) -> float:
    """Root mean square distance of the rows used, each counted by how well it is known."""
    kept = trust.rows > 0.5
    sd_px = evidence.centre_sd_px[kept]
    apart_px = evidence.blocks(vector[None]).pixel[0][kept] * sd_px
    return float(np.sqrt(np.average(np.sum(apart_px**2, axis=1), weights=1 / np.sum(sd_px**2, axis=1))))


def _result(evidence: Evidence, vector: Floats, trust: Trust, track: BallTrack, usable: NDArray[np.bool_]) -> FlightFit:
    spread, _ = covariance(evidence, vector, trust)
    inliers = trust.rows > 0.5
    outlier = np.zeros(len(usable), dtype=bool)
    outlier[usable] = ~inliers
    blocks = evidence.blocks(vector[None])
    freedom = max(2.0 * inliers.sum() - 6.0, 1.0)  # six numbers, position and velocity, come from the rows
    return FlightFit(
        parameters=vector,
        parameter_covariance=spread,
        camera_parameters=evidence.cameras(vector[None])[0],
        predicted_px=_predicted(evidence, vector, track),
        outlier=outlier,
        rows_used=int(inliers.sum()),
        residual_px=_residual_px(evidence, vector, trust),
        chi2_per_dof=float(np.sum(blocks.pixel[0][inliers] ** 2) / freedom),
    )


def _predicted(evidence: Evidence, vector: Floats, track: BallTrack) -> Floats:
    """(n, 2) where the flight is seen at every row of the track from contact on. [px]"""
    flying = np.isfinite(track.time_s) & (track.time_s >= vector[6]) & (track.time_s < vector[6] + LONGEST_FLIGHT_S)
    seen = np.full((len(flying), 2), np.nan)
    if flying.any():
        rows = gather(track, evidence.contact, evidence.setting, flying)
        cameras = rows.cameras(vector[None])
        seen[flying] = project_parameters(rows.positions(vector[None], cameras), cameras)[0]
    return seen


def speed_and_angles(velocity_mps: Floats) -> Floats:
    """(3,) speed [m/s], launch angle and spray direction [rad] of a (3,) velocity in the field frame."""
    x, y, z = velocity_mps
    return np.array([np.linalg.norm(velocity_mps), np.arctan2(z, np.hypot(x, y)), np.arctan2(x, y)])


def speed_and_angle_sds(velocity_mps: Floats, covariance: Floats) -> Floats:
    """(3,) one sd of speed [m/s], launch and spray [rad], to first order in the (3, 3) velocity covariance."""
    x, y, z = velocity_mps
    level_sq, speed = max(x * x + y * y, 1e-12), max(float(np.linalg.norm(velocity_mps)), 1e-6)
    level = np.sqrt(level_sq)
    slope = np.array(
        [
            [x / speed, y / speed, z / speed],
            [-x * z / (level * speed**2), -y * z / (level * speed**2), level / speed**2],
            [y / level_sq, -x / level_sq, 0.0],
        ]
    )
    return np.asarray(np.sqrt(np.einsum("ij,jk,ik->i", slope, covariance, slope)))
