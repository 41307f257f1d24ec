"""A swing as it was filmed: its clip, the instant of contact, how the phone stood, and the flight in that picture."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from balltrack.camera.model import Camera, project_parameters
from balltrack.camera.solve import SolvedCamera
from balltrack.contact import CONTACT_M
from balltrack.errors import RecordError
from balltrack.flight.evidence import Setting
from balltrack.flight.path import Path as FlightPath
from balltrack.flight.path import fly
from balltrack.lesson import Clip, Lesson
from balltrack.records.basis_file import basis_path, read_bases
from balltrack.records.refit import Basis, Flight
from balltrack.records.swing import Swing
from balltrack.review.timeline import AFTER_S
from balltrack.units import Floats
from balltrack.video.clip import ClipInfo, probe
from balltrack.video.colour import ColourTags, colour_tags
from balltrack.video.stamps import frame_times_s

FLOWN_S = AFTER_S + 0.2  # of the flight that is drawn: a clip's last picture, and its rolling shutter


@dataclass(frozen=True, slots=True, eq=False)
class SeenFlight:
    """The flight as it runs through this clip's own picture."""

    path: FlightPath  # time 0 is contact
    camera_parameters: Floats  # (11,) the camera as this swing alone would have it
    contact_m: Floats  # (3,) field frame
    last_seen_s: float  # since contact: what follows is calculated


@dataclass(frozen=True, slots=True, eq=False)
class FilmedSwing:
    """A swing whose pictures can be shown."""

    number: int  # in the lesson, from 1: what the reader sees everywhere
    swing: Swing
    block_title: str
    info: ClipInfo
    tags: ColourTags
    times_s: Floats  # (n,) of the clip's pictures
    camera: Camera  # as the phone stood in this clip
    contact_s: float  # clip time; of a miss, when the bat came through
    ball_diameter_m: float
    bats: str  # right | left
    flight: SeenFlight | None

    @property
    def row_delay_s(self) -> float:
        """How much later than a picture's time stamp the rows are exposed in which bat meets ball."""
        place_m = CONTACT_M if self.flight is None else self.flight.contact_m
        row = float(project_parameters(place_m[None], self.camera.parameters)[0, 1])
        height = self.camera.size_px[1]
        return self.camera.readout_s * float(np.clip(np.nan_to_num(row, nan=height / 2), 0, height)) / height

    @property
    def contact_stamp_s(self) -> float:
        """Time stamp that a picture of the contact would have."""
        return self.contact_s - self.row_delay_s


def filmed_swings(
    lesson: Lesson, swings: Sequence[Swing], solved: SolvedCamera, which: Collection[int]
) -> tuple[FilmedSwing, ...]:
    """Look up the swings with the numbers ``which``, in order; those without pictures or contact are left out.

    Raises
    ------
    VideoError
        If a clip cannot be read.
    RecordError
        If there is no swing of a number.
    """
    for number in which:
        if not 1 <= number <= len(swings):
            raise RecordError(f"there is no swing {number}: the lesson has {len(swings)}")
    clips = {clip.name: clip for clip in lesson.clips}
    found = []
    for number in sorted(set(which)):
        swing = swings[number - 1]
        if swing.clip in clips and not swing.swing.endswith("#0"):  # number 0: a clip that could not be measured
            filmed = _filmed(number, swing, clips[swing.clip], lesson, solved)
            found += [] if filmed is None else [filmed]
    return tuple(found)


def _filmed(number: int, swing: Swing, clip: Clip, lesson: Lesson, solved: SolvedCamera) -> FilmedSwing | None:
    basis, flight = _kept(lesson, swing)
    camera = solved.camera if basis is None else basis.camera
    contact_s = swing.contact_s if basis is None else basis.seen_s
    if flight is not None:
        contact_s = flight.fit.contact_s
    if contact_s is None:
        return None
    info = probe(clip.path, clip.capture_fps)
    titles = {block.name: block.title for block in lesson.blocks}
    seen = None if flight is None or basis is None else _seen(flight, basis, Setting(camera, lesson.ball, lesson.air))
    return FilmedSwing(
        number=number,
        swing=swing,
        block_title=titles.get(swing.block, swing.block),
        info=info,
        tags=colour_tags(clip.path),
        times_s=frame_times_s(info),
        camera=camera,
        contact_s=contact_s,
        ball_diameter_m=lesson.ball.diameter_m,
        bats=lesson.player.bats,
        flight=seen,
    )


def _kept(lesson: Lesson, swing: Swing) -> tuple[Basis | None, Flight | None]:
    """What the swing was measured from, and its flight; nothing where that was not kept: the clip has no path then."""
    try:
        bases, settled, _ = read_bases(lesson.folder / "results" / basis_path(swing.clip))
    except RecordError:
        return None, None
    for basis, each in zip(bases, settled, strict=True):
        if each.swing.swing == swing.swing:
            return basis, each.flight if swing.outcome == "measured" else None
    return None, None


def _seen(flight: Flight, basis: Basis, setting: Setting) -> SeenFlight:
    fit = flight.fit
    track = basis.track
    used_s = track.time_s[track.used] - fit.contact_s
    return SeenFlight(
        path=fly(fit.launch, setting.medium, FLOWN_S),
        camera_parameters=fit.camera_parameters,
        contact_m=fit.contact_m,
        last_seen_s=float(used_s.max()) if len(used_s) else 0.0,
    )
