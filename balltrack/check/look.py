"""What is seen and heard of a clip without measuring it."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from balltrack.camera.drift import sway_px
from balltrack.check.files import still_beside
from balltrack.video.clip import ClipInfo, probe
from balltrack.video.frames import Frame
from balltrack.video.peeks import peeks
from balltrack.video.phone import read_phone
from balltrack.video.sound import Sound, read_sound

PICTURES = 6
HEARD_FOR_S = 120.0  # of a longer recording no more is listened to
BLACK, LUMA_SPAN, FULL_SPAN = 16, 219, 255  # limited range: Rec. ITU-R BT.601


@dataclass(frozen=True, slots=True)
class Heard:
    """The sound: when it begins and ends [s, clip time], and its loudest sample; full scale is 1."""

    start_s: float
    stop_s: float
    loudest: float


@dataclass(frozen=True, slots=True)
class Look:
    """One clip, looked at."""

    path: Path
    info: ClipInfo
    phone: str  # who filmed it; empty where it does not say
    still: str  # name of the still picture whose moving part it is; empty where none lies beside it
    pictures: int  # that could be looked at
    brightness: float  # mean of the pictures, 0 black to 1 white
    moved_share: float  # of the picture's width, by which the scene shifted at most
    heard: Heard | None  # None: no sound, or silence


def look_at(path: Path, capture_fps: float | None = None) -> Look:
    """Look at a clip. Raises VideoError where it cannot be read."""
    info = probe(path, capture_fps)
    frames = peeks(info, PICTURES)
    still = still_beside(path)
    return Look(
        path=path,
        info=info,
        phone=read_phone(path).name.strip(),
        still=still.name if still else "",
        pictures=len(frames),
        brightness=float(np.mean([_brightness(frame, info) for frame in frames])) if frames else 0.0,
        moved_share=sway_px([frame.luma for frame in frames]) / frames[0].luma.shape[1] if frames else 0.0,
        heard=_heard(read_sound(path, info) if info.duration_s <= HEARD_FOR_S else _beginning(path, info)),
    )


def _beginning(path: Path, info: ClipInfo) -> Sound | None:
    return read_sound(path, info, None, HEARD_FOR_S)


def _heard(sound: Sound | None) -> Heard | None:
    if sound is None:
        return None
    return Heard(sound.start_s, sound.stop_s, float(np.max(np.abs(sound.samples), initial=0.0)))


def _brightness(frame: Frame, info: ClipInfo) -> float:
    mean = float(np.mean(frame.luma[::4, ::4]))
    return mean / FULL_SPAN if info.full_range else float(np.clip((mean - BLACK) / LUMA_SPAN, 0, 1))
