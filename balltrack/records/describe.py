"""From a fitted flight to a swing's record: names of the trade for its numbers, and how far they are to be trusted."""

from dataclasses import dataclass

import numpy as np

from balltrack import __version__
from balltrack.field import PLATE_DEPTH_M
from balltrack.flight.fit import FlightFit
from balltrack.flight.landing import Landing
from balltrack.flight.pitch import PitchNumbers
from balltrack.records.pitched import fair_or_foul, with_pitch
from balltrack.records.swing import Ended, FieldSide, FlightKind, Quality, Swing
from balltrack.units import MPS_PER_MPH

# Launch angles that part ground balls, line drives, fly balls and pop-ups: common practice, no one source.
GROUND_BALL_DEG, LINE_DRIVE_DEG, FLY_BALL_DEG = 10.0, 25.0, 50.0
MIDDLE_DEG = 15.0  # the fair field in three equal parts

GOOD_SPEED_SD_MPS, FAIR_SPEED_SD_MPS = 0.6, 1.2  # about 1 and 2 mph either way, two times in three
GOOD_ANGLE_SD_DEG, FAIR_ANGLE_SD_DEG = 0.8, 1.6
FEW_FRAMES = 6

# Vaguer numbers than these (one standard deviation) help nobody: about 7.5 mph, 3 and 4.5 degrees.
VAGUE_SPEED_SD_MPS, VAGUE_LAUNCH_SD_DEG, VAGUE_SPRAY_SD_DEG = 3.4, 3.0, 4.5


@dataclass(frozen=True, slots=True)
class Label:
    """What a swing's record carries whatever came of it."""

    swing: str
    clip: str
    block: str
    settings_hash: str
    contact_s: float | None
    detector: str = "motion"  # what found the ball: motion alone, or with a network
    by_hand: tuple[str, ...] = ()  # what a person put right
    excluded: str = ""  # why a person left it out
    exposure_s: float | None = None  # how long the shutter was open, where the ball's streaks tell
    pitch: PitchNumbers | None = None  # where it was seen
    ended: Ended | None = None  # of a swing without a hit, where it can be told


def unmeasured(label: Label, missed: bool, reason: str, warnings: tuple[str, ...] = ()) -> Swing:
    """A swing without numbers: a miss, or a hit that could not be measured."""
    swing = Swing(
        swing=label.swing,
        clip=label.clip,
        block=label.block,
        outcome="no_contact" if missed else "not_measured",
        balltrack_version=__version__,
        settings_hash=label.settings_hash,
        detector=label.detector,
        reason=reason,
        contact_s=None if missed else label.contact_s,
        warnings=warnings,
        by_hand=label.by_hand,
        excluded=label.excluded,
        exposure_s=label.exposure_s,
        ended=label.ended,
    )
    return with_pitch(swing, label.pitch)


def measured(label: Label, fit: FlightFit, landing: Landing, bats: str, warnings: tuple[str, ...] = ()) -> Swing:
    """A measured swing."""
    x, y, z = (float(value) for value in fit.contact_m)
    sd_x, sd_y, sd_z = (float(value) for value in fit.contact_sd_m)
    cov = landing.landing_cov_m2
    swing = Swing(
        swing=label.swing,
        clip=label.clip,
        block=label.block,
        outcome="measured",
        balltrack_version=__version__,
        settings_hash=label.settings_hash,
        detector=label.detector,
        contact_s=fit.contact_s,
        exit_speed_mps=fit.exit_speed_mps,
        exit_speed_sd_mps=fit.exit_speed_sd_mps,
        launch_deg=fit.launch_deg,
        launch_sd_deg=fit.launch_sd_deg,
        spray_deg=fit.spray_deg,
        spray_sd_deg=fit.spray_sd_deg,
        contact_m=(x, y, z),
        contact_sd_m=(sd_x, sd_y, sd_z),
        contact_depth_m=y - PLATE_DEPTH_M,
        carry_m=landing.carry_m,
        carry_sd_m=landing.carry_sd_m,
        landing_m=(float(landing.landing_m[0]), float(landing.landing_m[1])),
        landing_cov_m2=((float(cov[0, 0]), float(cov[0, 1])), (float(cov[1, 0]), float(cov[1, 1]))),
        hang_s=landing.hang_s,
        apex_m=landing.apex_m,
        tail_m=landing.tail_m,
        tail_sd_m=landing.tail_sd_m,
        fence_clear_probability=landing.fence_clear_probability,
        field_side=field_side(fit.spray_deg, bats),
        flight=flight_kind(fit.launch_deg),
        frames_used=fit.rows_used,
        residual_px=fit.residual_px,
        quality=quality(fit),
        warnings=(*warnings, *_doubts(fit)),
        by_hand=label.by_hand,
        excluded=label.excluded,
        exposure_s=label.exposure_s,
        ended=fair_or_foul(fit, landing),
    )
    return with_pitch(swing, label.pitch)


def why_vague(fit: FlightFit) -> str:
    """Why the flight is too uncertain to report; empty where it is not."""
    if fit.exit_speed_sd_mps > VAGUE_SPEED_SD_MPS:
        off = f"the exit speed would only be known to {fit.exit_speed_sd_mps / MPS_PER_MPH:.0f} mph"
    elif fit.launch_sd_deg > VAGUE_LAUNCH_SD_DEG or fit.spray_sd_deg > VAGUE_SPRAY_SD_DEG:
        off = f"its angles would only be known to {max(fit.launch_sd_deg, fit.spray_sd_deg):.0f} degrees"
    else:
        return ""
    return f"from the {fit.rows_used} frames that show the ball, {off}"


def field_side(spray_deg: float, bats: str) -> FieldSide:
    """Third of the field, seen by this batter: a right-handed batter pulls to the left."""
    toward_opposite = spray_deg if bats == "right" else -spray_deg
    if abs(toward_opposite) <= MIDDLE_DEG:
        return "middle"
    return "opposite" if toward_opposite > 0 else "pull"


def flight_kind(launch_deg: float) -> FlightKind:
    """Name of a launch angle."""
    if launch_deg < GROUND_BALL_DEG:
        return "ground_ball"
    if launch_deg < LINE_DRIVE_DEG:
        return "line_drive"
    return "fly_ball" if launch_deg <= FLY_BALL_DEG else "pop_up"


def quality(fit: FlightFit) -> Quality:
    """How far the numbers may be trusted, from their own uncertainty and the frames behind them."""
    angle_sd = max(fit.launch_sd_deg, fit.spray_sd_deg)
    if fit.exit_speed_sd_mps > FAIR_SPEED_SD_MPS or angle_sd > FAIR_ANGLE_SD_DEG:
        return "poor"
    if fit.exit_speed_sd_mps > GOOD_SPEED_SD_MPS or angle_sd > GOOD_ANGLE_SD_DEG or fit.rows_used < FEW_FRAMES:
        return "fair"
    return "good"


def _doubts(fit: FlightFit) -> tuple[str, ...]:
    doubts = []
    if fit.rows_used < FEW_FRAMES:
        doubts.append(f"seen in only {fit.rows_used} frames")
    outliers = int(np.sum(fit.outlier))
    if outliers > 2 and outliers > 0.2 * fit.rows_used:
        doubts.append(f"{outliers} frames lay off the flight and were left out")
    return tuple(doubts)
