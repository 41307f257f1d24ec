"""What a swing's flight must explain: the track's pixels, the contact, and what is known beforehand."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balltrack.air import UNKNOWN_DENSITY_SD_SHARE, Air
from balltrack.camera.model import Camera, diameter_in_camera_px, points_in_camera_m, project_in_camera
from balltrack.field import Ball
from balltrack.flight.forces import BATTED, Spin, air_factor
from balltrack.flight.path import LONGEST_FLIGHT_S, Launch, Medium, fly_rows
from balltrack.track.ball import BallTrack
from balltrack.track.centre import BallImage
from balltrack.units import Floats

FLIGHT_PARAMETERS = (
    "x_m",
    "y_m",
    "z_m",
    "vx_mps",
    "vy_mps",
    "vz_mps",
    "contact_s",
    "drag",
    "lift_up",
    "lift_side",
)
"""What a fit finds, in the order of its covariance: centre and velocity at contact, its time, drag, lift."""

FLIGHT = len(FLIGHT_PARAMETERS)
DRAG = FLIGHT_PARAMETERS.index("drag")
SIZE = FLIGHT  # index of the log of (apparent diameter measured / expected), alike at any distance
EDGE = FLIGHT + 1  # index of the pixels by which every diameter is measured too large
PULL = FLIGHT + 2  # index of two: by how many diameters every centre is measured too far right, and down
SHIFT = FLIGHT + 4  # index of two: by how many pixels every centre is measured too far right, and down
CAMERA = FLIGHT + 6  # the whitened camera follows
IN_THE_AIR = [0, 1, 2, 3, 4, 5, 7, 8, 9]  # what of a flight a path is flown by

# A shaded or bright ball looks smaller or larger by a share of its size; blur, sharpening and compression shift its
# edges by a part of a pixel, which matters the more the further it is. Both are alike in all frames of a clip
# (judgement from rendered and filmed balls, no source). On the whole a ball is found too small: its edge is where it is
# darkest, for seams, shade, sharpening and a bright sky all take from it (docs/decisions/0018).
SIZE_BIAS, SIZE_BIAS_SD = -0.015, 0.025
EDGE_BIAS_SD_PX = 0.4
# For the same reasons a ball lit from one side is found too far toward the light, alike in all frames of a clip, for
# sun and phone stay where they are: it is not noise that many frames average away (judgement, no source).
PULL_SD = 0.02
SHIFT_SD_PX = 0.3
# Of each velocity component: batted balls of the hardest hitters stay below 55 m/s (123 mph; common practice, no
# source). It holds the search when few rows say little, and moves a good fit by a few mm/s.
VELOCITY_SD_MPS = 60.0
# What pulls at centres and diameters besides noise (the ground behind, shade, the encoder) changes as the ball moves
# on by a few of its widths, about so long (judgement, no source). Frames closer than that tell little more than one.
ALIKE_S = 0.05
# A row further before the contact is flown as if it were so early: the search may step that wildly. A slow pitch takes
# 1.7 s from the hand to the plate.
EARLIEST_S = -2.0
# Changes that matter, to scale the search: 0.1 m, 1 m/s, 10 ms, a tenth of a coefficient, 3 %, 0.3 px, for centres too,
# a camera sd.
SCALE = np.array([0.1] * 3 + [1.0] * 3 + [0.01] + [0.1] * 3 + [0.03, 0.3] + [0.03] * 2 + [0.3] * 2)
SMALLEST_SHARE = 1e-9  # of the camera's variance: what is below is rounding, not freedom


@dataclass(frozen=True, slots=True)
class Setting:
    """What all swings of a lesson share."""

    camera: Camera
    ball: Ball
    air: Air
    spin: Spin = BATTED  # how the ball may turn

    @property
    def medium(self) -> Medium:
        """The air as this ball feels it. Wind is level."""
        factor = air_factor(self.air.density_kg_m3, self.ball.diameter_m, self.ball.mass_kg)
        return Medium(factor, np.array([*self.air.wind_mps, 0.0]))

    @property
    def drag_sd(self) -> float:
        """One sd of the drag coefficient as referred to the nominal air density, ball mass and cross-section."""
        ball = self.ball
        relative = (UNKNOWN_DENSITY_SD_SHARE, ball.mass_sd_kg / ball.mass_kg, 2 * ball.diameter_sd_m / ball.diameter_m)
        return float(np.hypot(ball.drag_sd, ball.drag * np.linalg.norm(relative)))

    @property
    def size_bias_sd(self) -> float:
        """One sd of the log of (apparent diameter measured / expected): of looks, and of the ball's true size."""
        return float(np.hypot(SIZE_BIAS_SD, self.ball.diameter_sd_m / self.ball.diameter_m))


@dataclass(frozen=True, slots=True, eq=False)
class ContactPrior:
    """What is known of the contact before the flight is seen.

    Row times lack half an exposure, the same for all rows: let ``time_sd_s`` cover it.
    """

    time_s: float
    time_sd_s: float
    position_m: Floats  # (3,) centre of the ball, field frame
    position_sd_m: Floats  # (3,)
    pixel_px: Floats | None = None  # (2,) where the ball was seen at contact, as on a tee
    pixel_sd_px: float = 1.0
    diameter_px: float | None = None  # of the ball seen there at rest
    diameter_sd_px: float = 1.0


def with_resting_ball(contact: ContactPrior, ball: BallImage) -> ContactPrior:
    """Add the ball seen at rest where contact was."""
    pixel_sd_px = float(np.sqrt(np.trace(ball.centre_cov_px2) / 2))
    return replace(
        contact,
        pixel_px=ball.centre_px,
        pixel_sd_px=float(np.hypot(pixel_sd_px, 0.3)),  # the bat carries the ball a little before it leaves
        diameter_px=ball.diameter_px,
        diameter_sd_px=ball.diameter_sd_px,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Trust:
    """How far the rows are believed."""

    rows: Floats  # (n,) weight from 0 to 1
    pixel_scale: float = 1.0  # by which the pixel sds are multiplied
    size_scale: float = 1.0  # by which the diameter sds are multiplied
    alike: float = 1.0  # by which all of these are, since rows that follow each other closely err alike


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Residuals over their standard deviations, for a batch of b parameter vectors."""

    pixel: Floats  # (b, n, 2)
    size: Floats  # (b, n) zero where a row has no diameter
    prior: Floats  # (b, q)

    def flat(self, trust: Trust) -> Floats:
        """One row of weighted residuals a vector, (b, 3 n + q)."""
        root = np.sqrt(trust.rows)
        pixel = self.pixel * (root / (trust.pixel_scale * trust.alike))[:, None]
        parts = (pixel.reshape(len(pixel), -1), self.size * root / (trust.size_scale * trust.alike), self.prior)
        return np.concatenate(parts, axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """The used rows of a track, and all that is known beside them."""

    setting: Setting
    contact: ContactPrior
    time_s: Floats  # (n,)
    centre_px: Floats  # (n, 2)
    centre_sd_px: Floats  # (n, 2)
    diameter_px: Floats  # (n,) NaN where not measured
    diameter_sd_px: Floats  # (n,)
    camera_basis: Floats  # (11, c) columns that turn c independent unit normals into camera errors
    row_share: Floats  # (n,) how far down the picture each row's ball was seen, 0 to 1
    known: Floats  # (2, p) mean and standard deviation of each parameter before the flight is seen

    @property
    def scale(self) -> Floats:
        """(p,) change that matters in each parameter."""
        return np.concatenate([SCALE, np.ones(self.camera_basis.shape[1])])

    def part(self, rows: slice) -> "Evidence":
        """The same with some of the rows only."""
        return replace(
            self,
            time_s=self.time_s[rows],
            centre_px=self.centre_px[rows],
            centre_sd_px=self.centre_sd_px[rows],
            diameter_px=self.diameter_px[rows],
            diameter_sd_px=self.diameter_sd_px[rows],
            row_share=self.row_share[rows],
        )

    def cameras(self, vectors: Floats) -> Floats:
        """(b, 11) camera parameters of (b, p) parameter vectors."""
        return np.asarray(self.setting.camera.parameters + vectors[:, CAMERA:] @ self.camera_basis.T)

    def positions(self, vectors: Floats, cameras: Floats) -> Floats:
        """(b, n, 3) where each flight has the ball at each row's time, by the `cameras` of its vector. [m]

        Their readout may differ from the one by which the rows' times were told.
        """
        readout_shift_s = cameras[:, 10:] - self.setting.camera.readout_s
        since_s = self.time_s + readout_shift_s * self.row_share - vectors[:, 6:7]
        since_s = np.minimum(np.maximum(since_s, EARLIEST_S), LONGEST_FLIGHT_S)
        launches = np.take(vectors, IN_THE_AIR, axis=1)
        with np.errstate(over="ignore", invalid="ignore"):  # a wild step of the search: no value, so refused
            path = fly_rows(launches, self.setting.medium, float(since_s.max()), float(since_s.min()))
            return path.at(since_s)

    def blocks(self, vectors: Floats) -> Blocks:
        """Residuals of (b, p) parameter vectors."""
        with np.errstate(over="ignore", invalid="ignore"):
            cameras = self.cameras(vectors)
            local = points_in_camera_m(self.positions(vectors, cameras), cameras)
            expected_px = diameter_in_camera_px(local, cameras, self.setting.ball.diameter_m)
            centres = _seen_at(project_in_camera(local, cameras), expected_px, vectors)
            pixel = (centres - self.centre_px) / self.centre_sd_px
            size = np.log(_seen_px(expected_px, vectors) / self.diameter_px) / self.size_sd
            return Blocks(pixel, np.where(np.isfinite(self.diameter_px), size, 0.0), self._prior(vectors, cameras))

    @property
    def alike(self) -> float:
        """By how much more than the noise of single rows their mean errs: the root of the rows that err alike."""
        if len(self.time_s) < 2:
            return 1.0
        return float(np.sqrt(max(1.0, ALIKE_S / max(float(np.median(np.diff(self.time_s))), 1e-6))))

    @property
    def size_sd(self) -> Floats:
        """(n,) sd of the log of each measured diameter, NaN where there is none."""
        return self.diameter_sd_px / self.diameter_px

    def _prior(self, vectors: Floats, cameras: Floats) -> Floats:
        contact, ball = self.contact, self.setting.ball
        mean, sd = self.known
        parts = [np.asarray((vectors - mean) / sd)]
        if contact.pixel_px is None and contact.diameter_px is None:
            return parts[0]
        start = points_in_camera_m(vectors[:, None, :3], cameras)
        expected_px = diameter_in_camera_px(start, cameras, ball.diameter_m)
        if contact.pixel_px is not None:
            seen_at = _seen_at(project_in_camera(start, cameras), expected_px, vectors)[:, 0]
            parts.append((seen_at - contact.pixel_px) / contact.pixel_sd_px)
        if contact.diameter_px is not None:
            seen_px = _seen_px(expected_px, vectors)
            parts.append((seen_px - contact.diameter_px) / contact.diameter_sd_px)
        return np.concatenate(parts, axis=1)


def _seen_px(expected_px: Floats, vectors: Floats) -> Floats:
    """(b, n) diameters as measured, with the bias of (b, p) parameter vectors."""
    biased = expected_px * np.exp(vectors[:, SIZE, None]) + vectors[:, EDGE, None]
    return np.asarray(np.maximum(biased, 0.1))


def _seen_at(centres_px: Floats, diameters_px: Floats, vectors: Floats) -> Floats:
    """(b, n, 2) centres as measured, with the bias of (b, p) parameter vectors."""
    measured = np.empty(centres_px.shape)
    for k in (0, 1):  # one after the other: numpy is slow over a last axis of two
        measured[..., k] = centres_px[..., k] + vectors[:, PULL + k, None] * diameters_px + vectors[:, SHIFT + k, None]
    return measured


def gather(track: BallTrack, contact: ContactPrior, setting: Setting, rows: NDArray[np.bool_]) -> Evidence:
    """Take some rows of a track as evidence."""
    basis = camera_basis(setting.camera.covariance)
    sized = np.isfinite(track.diameter_px) & (track.diameter_px > 0) & (track.diameter_sd_px > 0)
    return Evidence(
        setting=setting,
        contact=contact,
        time_s=track.time_s[rows],
        centre_px=track.centre_px[rows],
        centre_sd_px=track.centre_sd_px[rows],
        diameter_px=np.where(sized, track.diameter_px, np.nan)[rows],
        diameter_sd_px=np.where(sized, track.diameter_sd_px, np.nan)[rows],
        camera_basis=basis,
        row_share=np.nan_to_num(track.centre_px[rows, 1]) / setting.camera.size_px[1],
        known=known_beforehand(contact, setting, basis.shape[1]),
    )


def known_beforehand(contact: ContactPrior, setting: Setting, cameras: int) -> Floats:
    """(2, p) mean and standard deviation of each parameter; those of the whitened camera are 0 and 1."""
    spin = setting.spin
    mean = [*contact.position_m, 0, 0, 0, contact.time_s, setting.ball.drag, spin.up.mean, spin.side.mean]
    mean += [SIZE_BIAS, 0, 0, 0, 0, 0]
    sd = [*contact.position_sd_m, *[VELOCITY_SD_MPS] * 3, contact.time_sd_s, setting.drag_sd, spin.up.sd, spin.side.sd]
    sd += [setting.size_bias_sd, EDGE_BIAS_SD_PX, PULL_SD, PULL_SD, SHIFT_SD_PX, SHIFT_SD_PX]
    return np.array([mean + [0] * cameras, sd + [1] * cameras], dtype=np.float64)


def camera_basis(covariance: Floats) -> Floats:
    """(11, c) square root of a camera covariance, without the directions that have no variance."""
    sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    safe = np.where(sd > 0, sd, 1.0)
    share, directions = np.linalg.eigh(covariance / np.outer(safe, safe))
    kept = share > SMALLEST_SHARE
    return np.asarray(sd[:, None] * directions[:, kept] * np.sqrt(share[kept]))


def launch_of(vectors: Floats) -> Launch:
    """The launches of (b, p) parameter vectors."""
    return Launch(vectors[:, :3], vectors[:, 3:6], vectors[:, 7], vectors[:, 8], vectors[:, 9])
