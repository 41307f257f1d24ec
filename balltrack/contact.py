"""When bat met ball: the crack that the phone heard, and the stir of a swing that it saw around the plate."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import Camera, project
from balltrack.onset import Onset
from balltrack.units import Floats
from balltrack.video.frames import Frame

# Around the plate, field frame: where a batter, the bat and the ball are during a swing. [m]
ZONE_LOW_M = np.array([-1.5, -0.9, 0.1])
ZONE_HIGH_M = np.array([1.5, 1.9, 2.2])
CONTACT_M = np.array([0.0, 0.55, 0.9])  # the usual contact point; common practice, no source

ZONE_COLUMNS = 240  # the zone is watched at this width: limbs and bats, not leaves
STIR_GAP_S = 0.03  # frames compared lie at least so far apart, whatever the frame rate; those between are not looked at
STIR_STEP = 14  # luma difference that counts as moved

STIR_RISE = 2.2  # a swing stirs the zone so many times more than the clip's middle does
STIR_SHARE = 0.004  # and at least this share of the zone's pixels
FEWEST_STIRS = 5
# A bat's swing takes 0.15 to 0.2 s (common practice, no source); with the stride's end and the follow-through, half of
# its most stir lasts 0.2 to 0.33 s in rendered swings. Who walks by or works at the plate stirs it for longer.
LONGEST_SWING_S = 0.5
# No batter fills so much of the picture with motion from one frame to the next; a phone that is moved does.
LARGEST_WHOLE, FEW_ROWS = 0.12, 100
AGAINST_WALK = 1.5  # and no walk stirs it so many times more than a swing: what is so much weaker belongs to the walk
APART_S = 0.9  # two swings by one batter lie further apart
HEARD_SD_S = 0.005  # a crack's onset against the frames' clock, on one phone
STRETCHED_SD_S = 0.05  # the same where a slow-motion file is stored stretched: one real one was 57 ms late
SEEN_SD_S = 0.08  # the stir's peak against contact
SWING_TO_CRACK_S = 0.3  # a crack belongs to a swing that peaks within this time of it


@dataclass(frozen=True, slots=True, eq=False)
class Stir:
    """How much moved around the plate, frame by frame."""

    time_s: Floats  # (n,)
    share: Floats  # (n,) of the zone's pixels
    whole: Floats  # (n,) of the whole picture's, of which a few are looked at


@dataclass(frozen=True, slots=True)
class Cue:
    """A moment at which a bat may have met a ball."""

    time_s: float
    sd_s: float
    heard: bool  # a crack was heard
    strength_db: float  # of the crack over the background; 0 where none was heard
    swung: float  # the stir over the clip's middle; 0 where nothing stirred
    silent: bool = False  # the clip has no sound that could have been heard
    stirred: float = 0.0  # the most that the zone around the plate was stirred near it, as a share of its pixels
    brief: bool = True  # the stir is as short as a swing's; of one that was heard nothing is said


class StirMeter:
    """Measures the stir of successive frames. Give it every frame, in order."""

    def __init__(self, camera: Camera) -> None:
        self._box = zone_box_px(camera)
        self._past: tuple[float, NDArray[np.uint8], NDArray[np.uint8]] | None = None
        self._time_s: list[float] = []
        self._share: list[float] = []
        self._whole: list[float] = []

    def add(self, frame: Frame) -> None:
        """Compare a frame with the one about 1/30 s before it."""
        if self._past and frame.time_s - self._past[0] < STIR_GAP_S:
            return
        left, top, right, bottom = self._box
        scale = min(1.0, ZONE_COLUMNS / (right - left))
        size = max(int((right - left) * scale), 8), max(int((bottom - top) * scale), 8)
        small = _shrunk(frame.luma[top:bottom, left:right], size)
        few = frame.luma[:: -(-frame.luma.shape[0] // FEW_ROWS), :: -(-frame.luma.shape[1] // FEW_ROWS)].copy()
        if self._past:
            before_s, before, few_before = self._past
            moved = _share_moved(small, before)
            self._whole.append(_share_moved(few, few_before))
            # At low frame rates the gap is longer and more moves: put it per STIR_GAP_S.
            self._share.append(moved * min(1.0, STIR_GAP_S / max(frame.time_s - before_s, 1e-3)))
            self._time_s.append(0.5 * (frame.time_s + before_s))
        self._past = frame.time_s, small, few

    def stir(self) -> Stir:
        """Give the stir so far."""
        return Stir(np.array(self._time_s), np.array(self._share), np.array(self._whole))


def _share_moved(now: NDArray[np.uint8], before: NDArray[np.uint8]) -> float:
    return np.count_nonzero(cv2.absdiff(now, before) > STIR_STEP) / now.size


def _shrunk(part: NDArray[np.uint8], size: tuple[int, int]) -> NDArray[np.uint8]:
    """A part of a picture at a smaller size, each pixel about the mean of what it shows.

    It is halved as often as it goes; what is left, by less than half, is read off between four pixels: their exact
    shares would take four times as long as all the rest. Each step costs half a step of rounding.
    """
    while part.shape[1] >= 2 * size[0] and part.shape[0] >= 2 * size[1]:
        even = part[: part.shape[0] // 2 * 2, : part.shape[1] // 2 * 2]
        half = even.shape[1] // 2, even.shape[0] // 2
        part = np.asarray(cv2.resize(even, half, interpolation=cv2.INTER_AREA), np.uint8)
    return np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_LINEAR), np.uint8)


def zone_box_px(camera: Camera) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of the picture's part that shows the zone around the plate. [px]"""
    corners = np.array([[x, y, z] for x in _ends(0) for y in _ends(1) for z in _ends(2)])
    pixels = project(corners, camera)
    pixels = pixels[np.isfinite(pixels).all(axis=1)]
    width, height = camera.size_px
    if not len(pixels):
        return 0, 0, width, height
    low, high = pixels.min(axis=0), pixels.max(axis=0)
    left, top = int(np.clip(low[0], 0, width - 16)), int(np.clip(low[1], 0, height - 16))
    right, bottom = int(np.clip(high[0], left + 16, width)), int(np.clip(high[1], top + 16, height))
    return left, top, right, bottom


def _ends(axis: int) -> tuple[float, float]:
    return float(ZONE_LOW_M[axis]), float(ZONE_HIGH_M[axis])


def sound_delay_s(camera: Camera, sound_mps: float) -> float:
    """How much later the phone hears a crack at the usual contact point than it happens."""
    return float(np.linalg.norm(camera.position_field_m - CONTACT_M)) / sound_mps


def heard_sd_s(time_scale: float) -> float:
    """How well a sound dates a picture of a clip whose file time runs ``time_scale`` times too slowly. [s]"""
    return HEARD_SD_S if time_scale == 1.0 else STRETCHED_SD_S


def find_cues(onsets: Sequence[Onset] | None, stir: Stir, delay_s: float, sd_s: float) -> tuple[Cue, ...]:
    """List the moments at which a bat may have met a ball, in order of time.

    Where neither sound nor stir stands out, the strongest stir is one, on trial.

    Parameters
    ----------
    onsets : sequence of Onset
        Sharp sounds, as the phone heard them; None where the clip has no sound.
    stir : Stir
    delay_s : float
        The sound's way to the phone. [s]
    sd_s : float
        Of the sounds' times against the frames'. [s]
    """
    peaks = _swings(stir)
    heard = [
        Cue(onset.time_s - delay_s, float(np.hypot(onset.time_sd_s, sd_s)), True, onset.strength_db, 0.0)
        for onset in onsets or ()
    ]
    cues: list[Cue] = []
    for cue in heard:
        near = [peak for peak in peaks if abs(peak.time_s - cue.time_s) < SWING_TO_CRACK_S]
        swung = max((peak.swung for peak in near), default=0.0)
        cues.append(replace(cue, swung=swung, stirred=_stirred(stir, cue.time_s)))
    matched = [cue.time_s for cue in cues if cue.swung]
    cues += [
        replace(peak, silent=onsets is None, stirred=_stirred(stir, peak.time_s))
        for peak in peaks
        if all(abs(peak.time_s - time) >= SWING_TO_CRACK_S for time in matched)
    ]
    if not cues and len(stir.share) >= FEWEST_STIRS:
        cues = [Cue(float(stir.time_s[np.argmax(stir.share)]), 2 * SEEN_SD_S, False, 0.0, 0.0, silent=onsets is None)]
    return tuple(sorted(cues, key=lambda cue: cue.time_s))


def deaf_outside(cues: Sequence[Cue], first_s: float, last_s: float) -> tuple[Cue, ...]:
    """The same moments, those silent at which no sound was recorded: it began later, or broke off before.

    ``first_s`` and ``last_s`` are the clip times of contacts that would have been heard. [s]
    """
    return tuple(cue if cue.heard or first_s <= cue.time_s <= last_s else replace(cue, silent=True) for cue in cues)


def _stirred(stir: Stir, time_s: float) -> float:
    """The most that moved around the plate within a swing's reach of a time."""
    near = stir.share[np.abs(stir.time_s - time_s) < SWING_TO_CRACK_S]
    return float(near.max()) if len(near) else 0.0


def _swings(stir: Stir) -> list[Cue]:
    """Peaks of the stir that stand out as a swing does, strongest first, APART_S from each other."""
    if len(stir.share) < FEWEST_STIRS:
        return []
    step = max(float(np.median(np.diff(stir.time_s))), 1e-3)
    width = max(round(0.05 / step), 1)
    smooth = np.convolve(stir.share, np.ones(width) / width, mode="same")
    usual = max(float(np.median(smooth)), STIR_SHARE / STIR_RISE)
    peaks: list[Cue] = []
    for k in np.argsort(-smooth):
        if smooth[k] < STIR_RISE * usual:
            break
        time = float(stir.time_s[k])
        if all(abs(time - peak.time_s) >= APART_S for peak in peaks):
            brief = _lasts_s(smooth, k, step) < LONGEST_SWING_S and stir.whole[k] < LARGEST_WHOLE
            peaks.append(Cue(time, SEEN_SD_S, False, 0.0, float(smooth[k] / usual), brief=brief))
    strongest = peaks[0].swung if peaks else 0.0
    walked = max((peak.swung for peak in peaks if not peak.brief), default=0.0)
    return [
        replace(peak, brief=peak.brief and AGAINST_WALK * peak.swung > walked)
        for peak in peaks
        if peak.swung > 0.5 * strongest
    ]


def _lasts_s(stir: Floats, k: int, step_s: float) -> float:
    """How long around row ``k`` the stir keeps above half of what it is there. [s]"""
    calm = np.flatnonzero(stir <= 0.5 * stir[k])
    before, after = calm[calm < k], calm[calm > k]
    first = int(before[-1]) + 1 if len(before) else 0
    stop = int(after[0]) if len(after) else len(stir)
    return (stop - first) * step_s


def one_swing_each(cues: Sequence[Cue]) -> tuple[tuple[Cue, ...], ...]:
    """Group the moments that belong to one swing, the likeliest contact first.

    A crack during a swing comes first, a swing alone next, a sound alone last; the loudest first among equals.
    """
    groups: list[list[Cue]] = []
    for cue in cues:
        if groups and cue.time_s - groups[-1][0].time_s < APART_S:
            groups[-1].append(cue)
        else:
            groups.append([cue])
    return tuple(tuple(sorted(group, key=_likelihood, reverse=True)) for group in groups)


def _likelihood(cue: Cue) -> tuple[bool, bool, float]:
    return cue.heard and cue.swung > 0, cue.swung > 0, cue.strength_db
