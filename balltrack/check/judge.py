"""Whether a clip is fit to measure: what speaks against it, and what to do otherwise next time."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from balltrack.check.expect import Prospect
from balltrack.check.look import Look
from balltrack.records.wording import NINE_IN_TEN
from balltrack.video.clip import PRESSED
from balltrack.video.rate import CHANGES_SPEED

LEAST_STAYING = 0.5  # of the kinds of hit that must stay in the picture for enough frames
COARSEST = 0.1  # of the usual exit speed, nine in ten: a coarser number tells a coach nothing (judgement, no source)
SHORTEST_S, LONGEST_S = 0.5, 300.0  # a swing's ball is in the picture for half a second; no single clip is longer
FEW_FPS, SLOW_SHARE = 49.0, 0.93  # fewer frames a second are said; so far below a usual rate the light was short
FEW_LINES = 700
DARK = 0.12  # mean brightness; a lit field has 0.3 to 0.5 (judgement from clips at hand)
MOVED_SHARE = 0.008  # of the width: 15 px at 1080p, more than a knock that is put right costs
LATE_S = 0.25  # so much later than the picture a sound begins, or earlier it ends
USUAL_RATES = (24, 25, 30, 50, 60, 100, 120, 240, 480, 960)
LEAST_FPS = 23.5  # nothing was tested below
MORE_FRAMES, MORE_LINES = "film 60 frames a second or more", "film with 1080 lines or more"


class Fitness(Enum):
    """From best to worst."""

    FIT = "Fit to measure."
    LESS = "Fit to measure, with less accuracy than it could have."
    UNFIT = "Not fit to measure."


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing about a clip."""

    weighs: Fitness  # FIT: only to be known
    what: str
    instead: str = ""  # what to do next time; empty where that is said in ``what``, or nothing


def judge(look: Look, prospect: Prospect | None) -> tuple[Fitness, tuple[Remark, ...]]:
    """The verdict, and what it rests on, the heaviest first."""
    remarks = [*_speed(look), *_pictures(look, prospect), *_light(look), *_sound(look), *_length(look)]
    order = list(Fitness)
    remarks.sort(key=lambda remark: -order.index(remark.weighs))
    return (remarks[0].weighs if remarks else Fitness.FIT), tuple(remarks)


def _speed(look: Look) -> Iterator[Remark]:
    """Whether its times can be trusted."""
    info = look.info
    wrong = next((word for word in info.warnings if "slow motion" in word or word == CHANGES_SPEED), "")
    if wrong:
        yield Remark(Fitness.UNFIT, wrong, "send the clip as the phone keeps it: not edited, not shared from an app")
    if info.scale_told_by:
        words = f"slow motion, {1 / info.time_scale:.3g} times slower than life by {info.scale_told_by}; put right"
        yield Remark(Fitness.FIT, words)
    elif not look.phone and info.nominal_fps < FEW_FPS and not wrong:
        words = "nothing in the file says how fast it was filmed: if it is slow motion, every speed will be wrong"
        yield Remark(Fitness.FIT, words, "where it is slow motion, enter capture_fps in lesson.toml, say 240")
    if look.moved_share > MOVED_SHARE:
        words = f"the whole picture moves, by {100 * look.moved_share:.1f} % of its width"
        yield Remark(Fitness.UNFIT, words, "put the phone on a tripod, touch nothing, stabilisation and zoom off")


def _pictures(look: Look, prospect: Prospect | None) -> Iterator[Remark]:
    info = look.info
    if not look.pictures:
        yield Remark(Fitness.UNFIT, "no picture of it can be shown", "copy it from the phone again")
    if info.nominal_fps < LEAST_FPS:
        words = f"{info.nominal_fps:.0f} frames a second: too few to follow a batted ball"
        yield Remark(Fitness.UNFIT, words, MORE_FRAMES)
    elif info.nominal_fps < FEW_FPS:
        yield Remark(Fitness.LESS, f"only {info.nominal_fps:.0f} frames a second: few looks at each ball", MORE_FRAMES)
    if prospect is None or _too_coarse(prospect):
        words = f"{min(info.size_px)} lines: the ball is too small for a number that says anything"
        yield Remark(Fitness.UNFIT, words, MORE_LINES)
    elif min(info.size_px) < FEW_LINES:
        yield Remark(Fitness.LESS, f"only {min(info.size_px)} lines: the ball is small", MORE_LINES)
    if info.size_px[0] < info.size_px[1]:
        words = "upright picture: a ball leaves it sooner to the sides"
        yield Remark(Fitness.LESS, words, "lay the phone on its long side")
    for word in info.warnings:
        if "not square" in word:
            yield Remark(Fitness.UNFIT, word, "send the clip as the phone keeps it")
        elif word.startswith(PRESSED):
            words = "send it by cable, or as a file; messengers press films"
            yield Remark(Fitness.LESS, f"{word}; numbers will be worse than said here by an unknown amount", words)
        elif "slow motion" not in word and word != CHANGES_SPEED:
            yield Remark(Fitness.LESS, word)
    if look.still:
        words = f"the moving part of the picture {look.still}: short, and of fewer frames"
        yield Remark(Fitness.LESS, words, "film in the phone's video mode")


def _too_coarse(prospect: Prospect) -> bool:
    sun = prospect.sun
    return not (sun.share >= LEAST_STAYING and NINE_IN_TEN * sun.exit_speed_sd_mps <= COARSEST * prospect.usual_mps)


def _light(look: Look) -> Iterator[Remark]:
    info = look.info
    usual = min(USUAL_RATES, key=lambda rate: abs(rate - info.nominal_fps))
    if look.pictures and look.brightness < DARK:
        yield Remark(Fitness.LESS, "dark: the shutter is open long, and the ball is a streak", "film in brighter light")
    elif info.variable_rate or 0.6 * usual < info.nominal_fps < SLOW_SHARE * usual:
        words = "the frame rate varies: each picture's own time is used, but the phone may have been short of light"
        yield Remark(Fitness.FIT, words, "film in brighter light, or turn automatic frame rates off")


def _sound(look: Look) -> Iterator[Remark]:
    info, heard = look.info, look.heard
    on = "film with sound: the crack tells when contact was, and a miss from a hit"
    if not info.has_sound:
        yield Remark(Fitness.LESS, "no sound", on)
    elif heard is None:
        yield Remark(Fitness.LESS, "the sound is silent: taken as none", f"{on}; let the camera use the microphone")
    else:
        if heard.start_s > info.first_s + LATE_S:
            words = f"the sound begins {heard.start_s - info.first_s:.1f} s after the picture"
            yield Remark(Fitness.LESS, words, "start filming two seconds before the swing")
        if heard.stop_s < min(info.duration_s, LONGEST_S / 3) + info.first_s - LATE_S:
            yield Remark(Fitness.LESS, f"the sound ends at {heard.stop_s:.1f} s, before the picture", on)


def _length(look: Look) -> Iterator[Remark]:
    duration_s = look.info.duration_s
    if 0 < duration_s < SHORTEST_S:
        words = f"{duration_s:.1f} s: too short for a swing and its ball"
        yield Remark(Fitness.UNFIT, words, "start two seconds before the swing, and wait until the ball is down")
    elif duration_s > LONGEST_S:
        words = f"{duration_s / 60:.0f} minutes: a recording of many swings"
        yield Remark(Fitness.FIT, words, "cut it into clips first: balltrack split")
