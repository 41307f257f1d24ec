"""One swing with what a person put right: the ball's track corrected, the flight fitted anew, the record made of it.

What the program found stays as it is in the `Basis`; corrections are laid over it each time. So taking one back gives
the earlier numbers, and measuring the clip again gives those that the person saw.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import Camera
from balltrack.errors import FlightError
from balltrack.field import Fence
from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.flight.fit import FEWEST_ROWS, FlightFit, fit_flight
from balltrack.flight.landing import land
from balltrack.records.corrections import Corrections, Fix
from balltrack.records.describe import Label, measured, unmeasured, why_vague
from balltrack.records.hand import HandRow
from balltrack.records.swing import Swing
from balltrack.track.ball import BallTrack, without_outliers
from balltrack.units import Floats

HAND = "hand"
MOVED, TAKEN_OUT = "put right by hand", "taken out by hand"
SAID_A_MISS = "a miss: a person who looked at the swing said so"
# A person sets a ball's middle to a pixel, or to a tenth of a ball that is large or smeared; its width by eye only
# (judgement, no source).
CENTRE_SD_PX, CENTRE_SD_WIDTHS, WIDTH_SD_SHARE = 1.0, 0.1, 0.2
SAME_FRAME = 0.25  # of the time from frame to frame: what differs by less is about the same frame
HALF_EXPOSURE_SD_S = 0.002  # a frame's time is that of its first light; the middle is up to 1/240 s later
ODD_SHARE = 0.5  # a contact that lies so many frames off the one set by hand is worth a word


@dataclass(frozen=True, slots=True)
class Ground:
    """What the record of a flight needs beside the flight."""

    setting: Setting
    fence: Fence | None
    bats: str  # right | left


@dataclass(frozen=True, slots=True, eq=False)
class Flight:
    """One swing's fitted flight, with what was known of its contact."""

    label: Label
    fit: FlightFit
    contact: ContactPrior
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Stood:
    """How the phone stood in one clip, and with what it was measured: enough to add a swing to it."""

    camera: Camera
    frame_s: float  # usual time from frame to frame
    settings_hash: str
    detector: str


@dataclass(frozen=True, slots=True, eq=False)
class Basis:
    """What the program found of one swing, before a person's word."""

    label: Label  # its contact_s is when the program saw the swing
    contact: ContactPrior
    camera: Camera  # as the phone stood in this clip
    frame_s: float  # usual time from frame to frame
    track: BallTrack  # no rows where no ball was followed
    fit: FlightFit | None
    ballless: Swing | None  # the record where there is no flight
    added: bool = False  # by a person: the program saw no swing

    @property
    def seen_s(self) -> float:
        """Clip time at which the program saw the swing; it tells which corrections are meant."""
        return self.label.contact_s if self.label.contact_s is not None else self.contact.time_s


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """One swing as it goes into the results."""

    swing: Swing
    track: BallTrack
    flight: Flight | None


def describe(flight: Flight, ground: Ground) -> Swing:
    """The record of a flight: its numbers, or that they would be too vague to help."""
    if vague := why_vague(flight.fit):
        return unmeasured(replace(flight.label, contact_s=flight.fit.contact_s), False, vague, flight.warnings)
    landing = land(flight.fit, ground.setting, ground.fence)
    return measured(flight.label, flight.fit, landing, ground.bats, flight.warnings)


def settle(basis: Basis, fix: Fix, ground: Ground) -> Settled:
    """Lay a person's word over what the program found.

    Parameters
    ----------
    basis : Basis
    fix : Fix
        One that says nothing gives what the program found.
    ground : Ground
        Its camera is that of the clip.
    """
    label = replace(basis.label, by_hand=fix.words, excluded=fix.excluded)
    track = with_hand_rows(basis.track, fix.rows, basis.camera, basis.frame_s)
    if fix.miss:
        return Settled(unmeasured(replace(label, ended="miss"), True, SAID_A_MISS), track, None)
    label = replace(label, exposure_s=basis.track.exposure_s)
    if not fix.touches_flight:
        return _as_found(basis, label, ground)
    contact = _contact(basis, fix)
    label = replace(label, contact_s=contact.time_s)
    try:
        fit = fit_flight(track, contact, ground.setting, basis.fit.launch if basis.fit else None)
    except FlightError as error:
        return Settled(_unfit(fix, track, label, error), track, None)
    flight = Flight(label, fit, contact, _doubts(track, fit, fix, basis.frame_s))
    return Settled(describe(flight, ground), without_outliers(track, fit.outlier), flight)


def settle_clip(bases: Sequence[Basis], corrections: Corrections, ground: Ground) -> list[Settled]:
    """What a person put right in a clip, laid over what the program found of its swings."""
    fixes = corrections.fixes([basis.seen_s for basis in bases])
    return [
        settle(basis, fix, replace(ground, setting=replace(ground.setting, camera=basis.camera)))
        for basis, fix in zip(bases, fixes, strict=True)
    ]


def with_hand_rows(track: BallTrack, rows: tuple[HandRow, ...], camera: Camera, frame_s: float) -> BallTrack:
    """Lay a person's rows over a track.

    What the program found in the same frames stays in it, not used. A place set by hand is known to a pixel or a tenth
    of the ball, whichever is more; its width to a fifth.

    Parameters
    ----------
    track : BallTrack
    rows : tuple of HandRow
    camera : Camera
        For the time at which a row of the picture is exposed.
    frame_s : float
        Usual time from frame to frame. [s]
    """
    if not rows:
        return track
    used, reasons = track.used.copy(), list(track.reason)
    found_s = frame_times_s(track, camera)
    for row in rows:
        for k in np.flatnonzero(np.abs(found_s - row.time_s) < SAME_FRAME * frame_s):
            if used[k]:
                used[k], reasons[k] = False, TAKEN_OUT if row.centre_px is None else MOVED
    told = replace(track, used=used, reason=tuple(reasons))
    return _in_order(told, _hand_track([row for row in rows if row.centre_px is not None], camera))


def frame_times_s(track: BallTrack, camera: Camera) -> Floats:
    """(n,) the timestamps of the frames that a track's rows are from; those of rows without a ball are not exact."""
    return np.asarray(track.time_s - _row_delay_s(track.centre_px[:, 1], camera))


def _row_delay_s(v_px: Floats, camera: Camera) -> Floats:
    height = camera.size_px[1]
    return np.asarray(camera.readout_s * np.clip(np.nan_to_num(v_px), 0, height) / height)


def _hand_track(rows: list[HandRow], camera: Camera) -> BallTrack:
    centre = np.array([row.centre_px for row in rows], dtype=float).reshape(-1, 2)
    width = np.array([row.diameter_px for row in rows], dtype=float)
    sd = np.maximum(CENTRE_SD_PX, CENTRE_SD_WIDTHS * width)
    return BallTrack(
        time_s=np.array([row.time_s for row in rows], dtype=float) + _row_delay_s(centre[:, 1], camera),
        centre_px=centre,
        centre_sd_px=np.stack([sd, sd], axis=1),
        diameter_px=width,
        diameter_sd_px=WIDTH_SD_SHARE * width,
        used=np.ones(len(rows), dtype=np.bool_),
        source=(HAND,) * len(rows),
        reason=("",) * len(rows),
    )


def _in_order(first: BallTrack, second: BallTrack) -> BallTrack:
    time_s = np.concatenate([first.time_s, second.time_s])
    order = np.argsort(time_s, kind="stable")
    source, reason = first.source + second.source, first.reason + second.reason
    return BallTrack(
        time_s=time_s[order],
        centre_px=np.concatenate([first.centre_px, second.centre_px])[order],
        centre_sd_px=np.concatenate([first.centre_sd_px, second.centre_sd_px])[order],
        diameter_px=np.concatenate([first.diameter_px, second.diameter_px])[order],
        diameter_sd_px=np.concatenate([first.diameter_sd_px, second.diameter_sd_px])[order],
        used=np.concatenate([first.used, second.used])[order],
        source=tuple(source[k] for k in order),
        reason=tuple(reason[k] for k in order),
        exposure_s=first.exposure_s,
    )


def contact_sd_s(frame_s: float) -> float:
    """One sd of a contact that a person set at a frame: anywhere within it, and half an exposure. [s]"""
    return float(np.hypot(frame_s / np.sqrt(12), HALF_EXPOSURE_SD_S))


def _contact(basis: Basis, fix: Fix) -> ContactPrior:
    if fix.contact_s is None:
        return basis.contact
    return replace(basis.contact, time_s=fix.contact_s, time_sd_s=contact_sd_s(basis.frame_s))


def _as_found(basis: Basis, label: Label, ground: Ground) -> Settled:
    if basis.fit is None:
        swing = basis.ballless or unmeasured(label, False, "no ball was found")
        return Settled(replace(swing, by_hand=label.by_hand, excluded=label.excluded), basis.track, None)
    flight = Flight(label, basis.fit, basis.contact)
    return Settled(describe(flight, ground), without_outliers(basis.track, basis.fit.outlier), flight)


def _unfit(fix: Fix, track: BallTrack, label: Label, error: FlightError) -> Swing:
    places = int(track.used.sum())
    if places >= FEWEST_ROWS:
        return unmeasured(label, False, f"with what was put right by hand, {error}")
    few = f"{places} ball position{'' if places == 1 else 's'} to measure from, at least {FEWEST_ROWS} are needed"
    again = "" if fix.contact_s is None else ", or measure again: it is then looked for from the contact that was set"
    return unmeasured(label, False, f"{few}: set the ball's place in more frames{again}")


def _doubts(track: BallTrack, fit: FlightFit, fix: Fix, frame_s: float) -> tuple[str, ...]:
    """Where a person and the flight disagree."""
    doubts = []
    off = int(np.sum(fit.outlier & by_hand(track)))
    if off == 1:
        doubts.append("1 ball position set by hand lies off the flight that the others show, and was left out")
    elif off:
        doubts.append(f"{off} ball positions set by hand lie off the flight that the others show, and were left out")
    near_s = ODD_SHARE * frame_s + 2 * contact_sd_s(frame_s)
    if fix.contact_s is not None and abs(fit.contact_s - fix.contact_s) > near_s:
        doubts.append(
            f"contact was set by hand at {fix.contact_s:.3f} s, but the flight begins at {fit.contact_s:.3f} s"
        )
    return tuple(doubts)


def by_hand(track: BallTrack) -> NDArray[np.bool_]:
    """(n,) the rows that a person set."""
    return np.array([source == HAND for source in track.source], dtype=np.bool_)
