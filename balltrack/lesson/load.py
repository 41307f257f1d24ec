"""From a lesson folder to a Lesson: every number checked, in SI, every mark on its point of the field."""

from dataclasses import dataclass
from pathlib import Path

from balltrack.air import Air
from balltrack.camera.marks import Mark, STATED_READOUT_SD_S, ReadoutPrior
from balltrack.errors import LessonError
from balltrack.field import Ball, Fence
from balltrack.lesson.folder import Clip, Delivery, find_clips, settings_hash
from balltrack.lesson.lens import Lens
from balltrack.lesson.lesson_toml import BallTable, LensTable, LessonTable, TomlFile, did_you_mean


@dataclass(frozen=True, slots=True)
class Player:
    name: str
    bats: str  # right | left


@dataclass(frozen=True, slots=True)
class Block:
    """One folder of clips, in the words of lesson.toml where it has any."""

    name: str  # 01-tee
    title: str
    delivery: Delivery | None
    notes: str
    reps: int | None


@dataclass(frozen=True, slots=True, eq=False)
class Lesson:
    """A lesson as entered and filmed. SI."""

    folder: Path
    player: Player
    ball: Ball
    air: Air
    fence: Fence | None
    base_path_m: float
    pitching_distance_m: float | None
    lens: Lens
    readout: ReadoutPrior | None
    image_size_px: tuple[int, int] | None  # of the picture that was marked, where stated
    marks: tuple[Mark, ...]
    blocks: tuple[Block, ...]  # those that hold clips, in order
    clips: tuple[Clip, ...]
    notices: tuple[str, ...]  # what was left out and why, one line each
    settings_hash: str
