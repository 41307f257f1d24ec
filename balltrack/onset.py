"""Sharp sounds, such as the crack of bat on ball: when they reach the phone and how far they stand out.

A crack differs from wind, voices and music by its rise: within a few milliseconds its energy above 1 kHz jumps well
over all that came in the moments before. Nothing is corrected here for the sound's way to the phone.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.units import Floats
from balltrack.video.sound import Sound

STEP_S = 0.001
CUTOFF_HZ = 1000.0  # wind and most of a voice lie below
LOWEST_RATE_HZ = 4000.0  # below, there is hardly any band left above the cutoff

_BACKGROUND_S = 0.6  # window of the running median that is called background
_BACKGROUND_EVERY = 25  # steps between two medians
_RISE_STEPS = 4  # a crack rises to its peak within this time
_BEFORE_STEPS = 21  # what came before it: long enough to hold two pulses of a deep voice (100 Hz)
# Cracks of 0.3 to 2 ms attack in wind, 12 to 40 dB, AAC of 64 and 128 kb/s: late by 0.1 to 0.6 ms, sd 0.1 to 0.4 ms.
_TIME_SD_S = 0.0006
_LEAST_STRENGTH_DB = 10.0
_LEAST_RISE_DB = 8.0
_LOOK_BACK_STEPS = 8  # the instant is sought this far before the loudest millisecond
_MERGE_STEPS = 80
_NEARLY_AS_STRONG_DB = 6.0  # of merged onsets the first that is nearly as strong as the strongest: direct sound leads
_PRE_ECHO_DB = 15.0  # phones' codecs smear a few ms of a crack before its start, mostly this far below it
_FLOOR = 1e-9  # mean square of -90 dB full scale: digital silence is not infinitely quiet
_TAIL_STEPS = 25  # a codec's last block may end in a jump of its own
_CHUNK_STEPS = 60_000  # the sound is filtered a minute at a time


@dataclass(frozen=True, slots=True)
class Onset:
    """One sharp sound."""

    time_s: float  # clip time at which it reached the phone, real seconds
    time_sd_s: float
    strength_db: float  # energy above 1 kHz in its strongest millisecond, over the running median around it


def find_onsets(sound: Sound) -> tuple[Onset, ...]:
    """Find the sharp broadband sounds of a clip, in order of time.

    Sounds less than 80 ms apart count as one, dated by the first of the strong ones. Sharp consonants, drums and
    handling noise are onsets too: rank by strength and ask the picture.

    References
    ----------
    The instant is where the variance changes, by the Akaike picker of Maeda (1985), Zisin 38, 365 (from memory).
    """
    step = round(STEP_S * sound.rate_hz)
    if sound.rate_hz < LOWEST_RATE_HZ or len(sound.samples) < 2 * step:
        return ()
    level_db = _levels_db(sound, step)
    strength_db = level_db - _background_db(level_db)
    peaks = _peaks(level_db, strength_db)
    return tuple(
        _onset(sound, step, peak, float(strength_db[peak]), float(level_db[peak]))
        for peak in _merged(peaks, strength_db)
    )


def _high_passed(sound: Sound, first: int, stop: int) -> Floats:
    """Samples ``first`` to ``stop`` without what lies below the cutoff, and without delay.

    From them their low-pass, a windowed sinc 2 ms long, is taken away. Where the clip ends, its last samples are
    continued point-symmetrically, so that a slow wave does not seem to jump.
    """
    half = _filter_half(sound.rate_hz)
    at_s = np.arange(-half, half + 1) / sound.rate_hz
    low_pass = np.sinc(2 * CUTOFF_HZ * at_s) * np.hanning(2 * half + 3)[1:-1]
    low_pass /= low_pass.sum()
    begin, end = max(0, first - half), min(len(sound.samples), stop + half)
    known = sound.samples[begin:end].astype(np.float64)
    missing = (begin - (first - half), stop + half - end)
    padded = np.pad(known, missing, mode="reflect", reflect_type="odd")
    return padded[half:-half] - np.convolve(padded, low_pass, mode="valid")


def _filter_half(rate_hz: float) -> int:
    return max(2, round(0.001 * rate_hz))


def _levels_db(sound: Sound, step: int) -> Floats:
    """Mean square above the cutoff in each millisecond. [dB full scale] (len // step,)"""
    end = len(sound.samples) // step * step
    energies = []
    for first in range(0, end, _CHUNK_STEPS * step):
        chunk = _high_passed(sound, first, min(end, first + _CHUNK_STEPS * step))
        energies.append((chunk.reshape(-1, step) ** 2).mean(axis=1))
    return 10 * np.log10(np.concatenate(energies) + _FLOOR)


def _background_db(level_db: Floats) -> Floats:
    """Running median over the window, taken every few steps and joined by straight lines."""
    half = round(_BACKGROUND_S / STEP_S / 2)
    centres = np.arange(0, len(level_db) + _BACKGROUND_EVERY, _BACKGROUND_EVERY)
    whole = (centres >= half) & (centres + half <= len(level_db))  # windows inside are looked at together
    medians = np.empty(len(centres))
    if whole.any():
        windows = np.lib.stride_tricks.sliding_window_view(level_db, 2 * half)
        medians[whole] = np.median(windows[centres[whole] - half], axis=1)
    for i in np.flatnonzero(~whole):
        medians[i] = np.median(level_db[max(0, centres[i] - half) : centres[i] + half])
    return np.interp(np.arange(len(level_db)), centres, medians)


def _peaks(level_db: Floats, strength_db: Floats) -> NDArray[np.intp]:
    """Steps that stand out of the background, and out of the moments before by a fast rise."""
    background_db = level_db - strength_db
    before = np.concatenate([np.full(_BEFORE_STEPS + _RISE_STEPS, background_db[0]), level_db])
    windows = np.lib.stride_tricks.sliding_window_view(before, _BEFORE_STEPS)
    rise_db = level_db - windows[: len(level_db)].max(axis=1)
    found = (strength_db >= _LEAST_STRENGTH_DB) & (rise_db >= _LEAST_RISE_DB)
    return np.flatnonzero(found[: max(0, len(found) - _TAIL_STEPS)])


def _merged(peaks: NDArray[np.intp], strength_db: Floats) -> list[int]:
    """The strongest step of each 80 ms, moved to the first about as strong just before it; in order of time."""
    left = peaks[np.argsort(-strength_db[peaks], kind="stable")]
    kept: list[int] = []
    while len(left):
        strongest = left[0]
        near = np.sort(left[np.abs(left - strongest) <= _MERGE_STEPS])
        strong = near[(strength_db[near] >= strength_db[strongest] - _NEARLY_AS_STRONG_DB) & (near <= strongest)]
        attack = strong[strong <= strong[0] + _RISE_STEPS]
        kept.append(int(attack[np.argmax(strength_db[attack])]))
        left = left[np.abs(left - strongest) > _MERGE_STEPS]
    return sorted(kept)


def _onset(sound: Sound, step: int, peak: int, strength_db: float, level_db: float) -> Onset:
    """Date one onset to a fraction of a millisecond."""
    first = (peak - _LOOK_BACK_STEPS) * step
    energy = _high_passed(sound, max(0, first), (peak + 1) * step) ** 2
    # Where the clip itself begins with the sound, the background stands in for what was not recorded.
    background = 10 ** ((level_db - strength_db) / 10)
    energy = np.concatenate([np.full(max(0, -first), background), energy]) + 10 ** ((level_db - _PRE_ECHO_DB) / 10)
    at = first + _change_point(energy, step // 4)
    return Onset(sound.start_s + at / sound.rate_hz, _TIME_SD_S, strength_db)


def _change_point(energy: Floats, least: int) -> int:
    """Index at which (n,) squared samples are best cut into two stretches of constant variance (Maeda's AIC)."""
    count = len(energy)
    before = np.arange(least, count - least)
    total = np.cumsum(energy)
    quiet = total[before - 1] / before
    loud = (total[-1] - total[before - 1]) / (count - before)
    return int(before[np.argmin(before * np.log(quiet) + (count - before - 1) * np.log(loud))])
