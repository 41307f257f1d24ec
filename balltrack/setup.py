"""What all clips of a lesson share: its camera, its ball and air, the field as it was marked."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from balltrack.air import speed_of_sound_mps
from balltrack.camera.apart import apart_jpeg
from balltrack.camera.drift import FARTHEST_SHARE, LEAST_PX, MarkedStill, sway_px, turned
from balltrack.camera.moved import moved_jpeg
from balltrack.camera.solve import SolvedCamera, solve
from balltrack.detect.background import median_luma
from balltrack.detect.network import Network
from balltrack.detect.samples import Samples
from balltrack.errors import CameraMoved, VideoError
from balltrack.flight.evidence import Setting
from balltrack.flight.guesses import usual_flight
from balltrack.flight.lens_cost import lens_cost
from balltrack.lesson import Clip, Lesson, check_pixels
from balltrack.lesson.filmed import first_filmed
from balltrack.lesson.lens_choice import best_lens
from balltrack.lesson.settings import with_lens
from balltrack.records.refit import Ground
from balltrack.track.arcs import View
from balltrack.video.clip import ClipInfo, probe
from balltrack.video.frames import Frame, read_frames
from balltrack.video.key_frames import key_frames

# A still is the median of so many frames of the first clip's first seconds: of those stored whole, where enough are.
STILL_FRAMES, STILL_S = 9, 3.0
FEWEST_WHOLE, WHOLE_S = 4, 9.0
# Corners of small, strongly pressed pictures waver by half a pixel; of large ones the share of the width counts. In a
# rendered lesson held in the hand, sways of 2.3 to 4.7 px in 1280 turned the balls' ways by up to 1.7 degrees.
LARGEST_SWAY_PX, LARGEST_SWAY_SHARE = 1.0, 0.0005
SWAYED = "the phone swayed while it filmed: its numbers are less sure than stated; put it on a tripod, touch nothing"
UNMATCHED = (
    "its picture could not be matched with the first clip's: if the phone was moved between them, mark the field "
    "again; results/review/unmatched shows both"
)


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """What all clips of a lesson share."""

    lesson: Lesson
    solved: SolvedCamera
    setting: Setting
    view: View
    still: MarkedStill | None  # of the first clip, on which the field is taken to have been marked
    network: Network | None  # None: the ball is found by motion alone
    lens_words: str  # where the lens is known from, and what it costs

    @property
    def ground(self) -> Ground:
        """What the record of a flight needs beside the flight."""
        return Ground(self.setting, self.lesson.fence, self.lesson.player.bats)

    @property
    def sound_mps(self) -> float:
        """How fast sound travels in the lesson's air."""
        return speed_of_sound_mps(self.lesson.air.temperature_c)

    @property
    def detector(self) -> str:
        """What finds the ball, in words for the record."""
        return f"motion, {self.network.name}" if self.network else "motion"


def prepare(lesson: Lesson, network: Network | None = None) -> Setup:
    """Solve the lesson's camera, for the size of its marked picture or else of its first readable clip."""
    size_px, info = first_filmed(lesson)
    check_pixels(lesson, size_px)
    lens = best_lens(lesson.lens, info, size_px)
    lesson = with_lens(lesson, lens)
    solved = solve(lesson.marks, size_px, lens.prior, lesson.readout)
    setting, view = _seen_by(solved, lesson)
    cost = lens_cost(setting, info.nominal_fps if info else 0.0)
    words = "; ".join((lens.words, *([cost.words] if cost else [])))
    return Setup(lesson, solved, setting, view, _first_still(lesson.clips, info), network, words)


def _seen_by(solved: SolvedCamera, lesson: Lesson) -> tuple[Setting, View]:
    setting = Setting(solved.camera, lesson.ball, lesson.air)
    return setting, View(solved.camera, lesson.ball.diameter_m, usual_flight(setting))


def _first_still(clips: Sequence[Clip], first: ClipInfo | None) -> MarkedStill | None:
    """The field as the first clip shows it that can be read and has the marks' size; None where no clip does.

    ``first`` is what such a clip is.
    """
    if first is None:
        return None
    paths = [clip.path for clip in clips]
    for clip in clips[paths.index(first.path) :]:
        try:
            info = first if clip.path == first.path else probe(clip.path, clip.capture_fps)
            frames = _first_frames(info) if info.size_px == first.size_px else []
        except VideoError:
            continue  # it says so when it is measured
        if frames:
            return MarkedStill(median_luma(frames))
    return None


def _first_frames(info: ClipInfo) -> list[Frame]:
    """Frames spread over the beginning of a clip."""
    whole = key_frames(info, info.first_s + WHOLE_S)
    if len(whole) >= FEWEST_WHOLE:
        return whole[:STILL_FRAMES]
    samples = Samples()
    for frame in read_frames(info.path, 0.0, STILL_S, info=info):
        samples.add(frame)
    return samples.spread(STILL_FRAMES)


def after_drift(clip: Clip, samples: Samples, setup: Setup) -> tuple[Setup, str, bytes]:
    """The set-up as this clip's phone stood, and a word where that is not as the field was marked, or it swayed.

    Where that cannot be told, also a picture for a person to tell it from.

    Raises
    ------
    CameraMoved
        If the phone was turned so far that the marks no longer serve.
    """
    frames = samples.spread(STILL_FRAMES)
    if not frames:
        return setup, "", b""
    here, moved, apart = _stood(clip, frames, setup)
    return here, "; ".join(word for word in (moved, _sway_words(frames)) if word), apart


def _stood(clip: Clip, frames: Sequence[Frame], setup: Setup) -> tuple[Setup, str, bytes]:
    """The same of the way it stood alone, however it swayed."""
    if setup.still is None:
        return setup, "", b""
    camera = setup.solved.camera
    now = median_luma(frames)
    drift = setup.still.drift(now, camera)
    if drift is None:
        return setup, UNMATCHED, apart_jpeg(setup.still.luma, now)
    if drift.size_px <= LEAST_PX:
        return setup, "", b""
    moved = f"the picture had moved by {drift.size_px:.0f} px since the first clip"
    if drift.size_px > FARTHEST_SHARE * camera.size_px[0]:
        words = f"{clip.path.name}: {moved}: measure such clips as a lesson of their own, marked anew"
        raise CameraMoved(words, moved_jpeg(now, camera, setup.lesson.ball.kind))
    solved = replace(setup.solved, camera=turned(camera, drift.turn_rad))
    setting, view = _seen_by(solved, setup.lesson)
    turned_setup = replace(setup, solved=solved, setting=setting, view=view)
    return turned_setup, f"{moved}; corrected" if drift.size_px >= 1 else "", b""


def _sway_words(frames: Sequence[Frame]) -> str:
    """A word where the phone was not still while it filmed, which the stated doubts do not cover."""
    largest_px = max(LARGEST_SWAY_PX, LARGEST_SWAY_SHARE * frames[0].luma.shape[1])
    return SWAYED if sway_px([frame.luma for frame in frames]) > largest_px else ""


def check_size(info: ClipInfo, setup: Setup) -> None:
    """Refuse a picture of another size than the marks were made on."""
    if info.size_px != setup.solved.camera.size_px:
        found, marked = info.size_px, setup.solved.camera.size_px
        raise VideoError(
            f"{info.path.name}: the picture is {found[0]} x {found[1]} but the marks were made on "
            f"{marked[0]} x {marked[1]}; film all clips of a lesson alike, or mark the field again for these"
        )
