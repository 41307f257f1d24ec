"""How fast a clip was filmed: its stored rate, and how its stored seconds relate to real ones."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from av.container import InputContainer
from av.video.stream import VideoStream

from balltrack.units import Floats

_CAPTURE_RATE_TAG = "com.android.capture.fps"
_FULL_RATE_TAG = "com.apple.quicktime.full-frame-rate-playback-intent"
_STRETCHED = 1.5  # capture over stored rate from which a file counts as stretched; phones stretch 2 to 32 times
_USUAL_RATES = (24, 25, 30, 50, 60, 90, 100, 120, 240, 480, 960)
CHANGES_SPEED = "the frame interval changes inside the clip, as in edited slow motion: times may be wrong"
_FEW_INTERVALS = 20  # of fewer nothing is said
_UNEVEN, _UNEVEN_SHARE = 0.25, 0.05  # a rate varies where so large a share of the intervals is so far off the median


@dataclass(frozen=True, slots=True)
class Pace:
    """Real seconds per second of the file, who says so, and what a person should know."""

    time_scale: float = 1.0
    told_by: str = ""  # empty where nobody needed to say anything
    warnings: tuple[str, ...] = ()


def stored_fps(stream: VideoStream, times_s: Floats) -> float:
    """Frames per second of the file. The median interval outlives gaps and a phone's jitter."""
    intervals_s = _intervals_s(times_s)
    if len(intervals_s) >= 2:
        rate = float(1.0 / np.median(intervals_s))
    else:
        rate = float(stream.average_rate or stream.guessed_rate or 0)
    return rate


def varies(times_s: Floats) -> bool:
    """Whether the frame interval varies: phones let it in poor light, and save frames."""
    intervals_s = _intervals_s(times_s)
    if len(intervals_s) < _FEW_INTERVALS:
        return False
    usual_s = float(np.median(intervals_s))
    return bool(np.mean(np.abs(intervals_s - usual_s) > _UNEVEN * usual_s) > _UNEVEN_SHARE)


def pace(container: InputContainer, rate_fps: float, times_s: Floats, capture_fps: float | None) -> Pace:
    """Real seconds per second of the file: as a person says, else by the capture rate that phones write beside it.

    Parameters
    ----------
    container : an opened clip
    rate_fps : frames per second of the file
    times_s : (n,) times of its first pictures [s]
    capture_fps : frames per real second as a person entered them; None where nobody did
    """
    if capture_fps is not None and rate_fps > 0:
        return _entered(rate_fps, capture_fps)
    tagged_fps = _number(container.metadata.get(_CAPTURE_RATE_TAG, ""))
    if _changes_speed(times_s):
        return Pace(warnings=(CHANGES_SPEED,))
    if tagged_fps > 0 and rate_fps > 0 and tagged_fps / rate_fps >= _STRETCHED:
        if _has_vendor_trailer(Path(container.name)):
            words = (
                f"slow motion of {tagged_fps:.0f} frames/s whose speed changes inside the clip: times are not "
                "corrected; send the clip as filmed, without the phone's slow-motion effect"
            )
            return Pace(warnings=(words,))
        return Pace(_usual(rate_fps) / tagged_fps, f"the phone's own note, {tagged_fps:.0f} frames/s")
    if container.metadata.get(_FULL_RATE_TAG) == "0" and 0 < rate_fps <= 60:
        words = "exported slow motion: times may be wrong; send the clip as filmed, with all its frames, or give"
        return Pace(warnings=(f"{words} capture_fps in lesson.toml",))
    return Pace()


def _entered(rate_fps: float, capture_fps: float) -> Pace:
    """A rate a little off is the phone falling short in poor light, and its own times are right."""
    if capture_fps / rate_fps >= _STRETCHED:
        return Pace(_usual(rate_fps) / capture_fps, f"lesson.toml, {capture_fps:g} frames/s")
    if capture_fps / rate_fps <= 1 / _STRETCHED:
        words = f"capture_fps = {capture_fps:g} in lesson.toml is not used: the clip holds {rate_fps:.0f} frames"
        return Pace(warnings=(f"{words} a second; put it right, or leave it out",))
    return Pace()


def _usual(rate: float) -> float:
    """The rate a phone meant: the usual one within 1 %, else the measured one."""
    nearest = min(_USUAL_RATES, key=lambda usual: abs(usual - rate))
    return float(nearest) if abs(nearest - rate) < 0.01 * rate else rate


def _changes_speed(times_s: Floats) -> bool:
    """Whether a good part of the intervals is 3 or more times as long as another good part."""
    intervals_s = _intervals_s(times_s)
    if len(intervals_s) < _FEW_INTERVALS:
        return False
    short_s, long_s = np.percentile(intervals_s, [15, 85])
    return bool(long_s >= 3 * short_s)


def _intervals_s(times_s: Floats) -> Floats:
    intervals_s = np.diff(times_s)
    return np.asarray(intervals_s[intervals_s > 0])


def _has_vendor_trailer(path: Path) -> bool:
    """One phone family appends a trailer that lists stretches of different speed; it ends in these four letters."""
    with path.open("rb") as file:
        file.seek(max(0, path.stat().st_size - 4))
        return file.read(4) == b"SEFT"


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return 0.0
