"""How well the best possible fit could know a swing, given where the phone stands and how it films."""

from dataclasses import dataclass

import numpy as np

from balltrack.camera.model import apparent_diameter_px, project_parameters
from balltrack.errors import FlightError
from balltrack.flight.evidence import (
    CAMERA,
    FLIGHT,
    SIZE,
    ContactPrior,
    Evidence,
    Setting,
    Trust,
    camera_basis,
    known_beforehand,
)
from balltrack.flight.fit import FEWEST_ROWS, covariance, speed_and_angle_sds
from balltrack.flight.landing import land
from balltrack.flight.path import Launch, Path, fly
from balltrack.flight.start import from_launch
from balltrack.units import Floats

SETTLED_S = 1e-7  # in which no ball moves by more than 0.01 mm


@dataclass(frozen=True, slots=True, eq=False)
class Filming:
    """When frames are taken and how sharply the ball is seen in them. Each sd is one number, or (n,)."""

    frame_s: Floats  # (n,) clip times at which the top row is exposed
    centre_sd_px: float | Floats = 0.5
    diameter_sd_px: float | Floats = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class LaunchLimit:
    """One sd of how the ball leaves the bat, by the bound of Cramér and Rao: no unbiased fit does better."""

    exit_speed_sd_mps: float
    launch_sd_deg: float
    spray_sd_deg: float


@dataclass(frozen=True, slots=True, eq=False)
class Limit(LaunchLimit):
    """The same, with where the ball was met and where it comes down."""

    contact_sd_m: Floats  # (3,) of the ball's centre at contact
    carry_sd_m: float
    tail_sd_m: float
    frames: int  # in which the ball's centre is in the picture, in flight


@dataclass(frozen=True, slots=True, eq=False)
class _Bound:
    """The launch, and the least covariance of any fit to it."""

    launch: Launch
    covariance: Floats  # (10, 10), in the order of FLIGHT_PARAMETERS


def accuracy_limit(
    launch: Launch, contact: ContactPrior, setting: Setting, filming: Filming, true_sizes: bool = False
) -> Limit:
    """The bound for one launch at ``contact.time_s``; of the contact's position only the sd is used.

    ``true_sizes`` takes diameters and centres as free of any bias that all frames share: the fit allows for one, so
    this is the lower bound of the two. How far the ball's landing can be known follows from the bound and the wind.

    Raises
    ------
    FlightError
        If the ball would be seen in fewer than three frames.
    """
    spread, frames = _least_spread(launch, contact, setting, filming)
    if true_sizes:
        spread = _given(spread, list(range(SIZE, CAMERA)))
    speed, rise, across = speed_and_angle_sds(launch.velocity_mps, spread[3:6, 3:6])
    landing = land(_Bound(launch, spread[:FLIGHT, :FLIGHT]), setting)
    return Limit(
        exit_speed_sd_mps=float(speed),
        launch_sd_deg=float(np.degrees(rise)),
        spray_sd_deg=float(np.degrees(across)),
        contact_sd_m=np.sqrt(np.diag(spread)[:3]),
        carry_sd_m=landing.carry_sd_m,
        tail_sd_m=landing.tail_sd_m,
        frames=frames,
    )


def launch_limit(
    launch: Launch, contact: ContactPrior, setting: Setting, filming: Filming, path: Path | None = None
) -> LaunchLimit:
    """The part of `accuracy_limit` that needs no landing, in a tenth of its time; raises alike.

    ``path`` spares flying the launch again: it must reach a readout past the last frame.
    """
    spread, _ = _least_spread(launch, contact, setting, filming, path)
    speed, rise, across = speed_and_angle_sds(launch.velocity_mps, spread[3:6, 3:6])
    return LaunchLimit(float(speed), float(np.degrees(rise)), float(np.degrees(across)))


def _least_spread(
    launch: Launch, contact: ContactPrior, setting: Setting, filming: Filming, path: Path | None = None
) -> tuple[Floats, int]:
    """(p, p) least covariance of a fit's parameters, and in how many frames the ball is seen."""
    if path is None:
        last_s = float(np.max(filming.frame_s - contact.time_s, initial=0.0))
        path = fly(launch, setting.medium, last_s + max(setting.camera.readout_s, 0.0))
    evidence = _perfect_evidence(path, contact, setting, filming)
    frames = len(evidence.time_s)
    if frames < FEWEST_ROWS:
        raise FlightError(f"the ball would be seen in {frames} frames, at least {FEWEST_ROWS} are needed")
    spread, _ = covariance(evidence, from_launch(evidence, launch), Trust(np.ones(frames)))
    return spread, frames


def _given(spread: Floats, known: list[int]) -> Floats:
    """Covariance of all parameters once some are known; equals dropping these from the information matrix."""
    gain = np.linalg.solve(spread[np.ix_(known, known)], spread[known])
    return np.asarray(spread - spread[:, known] @ gain)


def _perfect_evidence(path: Path, contact: ContactPrior, setting: Setting, filming: Filming) -> Evidence:
    camera, radius_m = setting.camera, setting.ball.diameter_m / 2
    width, height = camera.size_px
    after = filming.frame_s >= contact.time_s
    after_s = filming.frame_s[after] - contact.time_s
    row_s = after_s
    for _ in range(5):  # the ball's row, hence its time, depends on its place; each round gains two digits
        positions = path.at(row_s)[0]
        pixels = project_parameters(positions, camera.parameters)
        before_s = row_s
        row_s = after_s + camera.readout_s * np.clip(np.nan_to_num(pixels[:, 1]), 0, height) / height
        if np.all(np.abs(row_s - before_s) < SETTLED_S):
            break
    seen = np.all((pixels > 0) & (pixels < [width, height]), axis=1) & (positions[:, 2] > radius_m)
    centre_sd_px, diameter_sd_px = (
        np.broadcast_to(sd, after.shape)[after][seen] for sd in (filming.centre_sd_px, filming.diameter_sd_px)
    )
    basis = camera_basis(camera.covariance)
    return Evidence(
        setting=setting,
        contact=contact,
        time_s=row_s[seen] + contact.time_s,
        centre_px=pixels[seen],
        centre_sd_px=np.repeat(centre_sd_px[:, None], 2, axis=1),
        diameter_px=apparent_diameter_px(positions[seen], camera.parameters, setting.ball.diameter_m),
        diameter_sd_px=diameter_sd_px,
        camera_basis=basis,
        row_share=pixels[seen, 1] / height,
        known=known_beforehand(contact, setting, basis.shape[1]),
    )
