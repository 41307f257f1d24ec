"""A swing's numbers as a person reads them: one wording for the terminal and the page. Units stand in the headings.

What is not a number comes from `WORDS`, or from the same keys of another language's table.
"""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from balltrack.records.swing import Swing
from balltrack.records.table import ANGLE, DEPTH, DISTANCE, OUTCOME_WORDS, SPEED, Scale, Units

NINE_IN_TEN = 1.645  # standard deviations of a normal distribution to each side that hold 90 in 100
NOTHING = "-"  # where a number could not be had
PLUS_MINUS_MEANS = "± holds nine in ten: of ten numbers like it, about nine are no further off."
WORDS: Mapping[str, str] = MappingProxyType(
    {
        "plus_minus_means": PLUS_MINUS_MEANS,
        "word_left": "{number} L",
        "word_right": "{number} R",
        "word_ahead": "{number} ahead",
        "word_behind": "{number} behind",
        "word_before": "{number} before",
        "word_after": "{number} after",
        "word_place": "{aside}, {height} up",
        "word_under": "under {number}",
        "word_over": "over {number}",
        "word_ground_ball": "ground ball",
        "word_line_drive": "line drive",
        "word_fly_ball": "fly ball",
        "word_pop_up": "pop up",
        **{f"word_{outcome}": word for outcome, word in OUTCOME_WORDS.items()},
        "word_take": "let go",
        "word_tip": "tip",
        "word_found": "its motion alone",
        "word_found_network": "motion and the network {network}",
    }
)
PITCHES_MEAN = (
    "Pitch: speed when first seen; highest point of the ball's middle above the ground (slow-pitch rule books ask for "
    "6 to 10 or 6 to 12 ft); angle downward and place at the plate's front edge, left (L) or right (R) of its middle "
    "as the catcher sees it, and height; how long before the ball was due there the bat met it or, in a miss, swung."
)
DIRECTION_MEANS = "Direction: degrees left (L) or right (R) of second base, seen from the plate; foul lines at 45."


def exit_speed(swing: Swing, units: Units) -> str:
    return _with_range(swing.exit_speed_mps, swing.exit_speed_sd_mps, SPEED[units])


def launch(swing: Swing) -> str:
    return _with_range(swing.launch_deg, swing.launch_sd_deg, ANGLE)


def direction(swing: Swing, words: Mapping[str, str] = WORDS) -> str:
    if swing.spray_deg is None or swing.spray_sd_deg is None:
        return NOTHING
    shown = f"{abs(swing.spray_deg):.1f}"
    if shown != "0.0":
        shown = words["word_left" if swing.spray_deg < 0 else "word_right"].format(number=shown)
    return shown + _range(swing.spray_sd_deg, ANGLE)


def depth(swing: Swing, units: Units, words: Mapping[str, str] = WORDS) -> str:
    """Contact ahead of or behind the plate's front edge."""
    if swing.contact_depth_m is None:
        return NOTHING
    value = round(swing.contact_depth_m / DEPTH[units].si_per_unit)
    return words["word_ahead" if value > 0 else "word_behind"].format(number=abs(value)) if value else "0"


def carry(swing: Swing, units: Units) -> str:
    return _with_range(swing.carry_m, swing.carry_sd_m, DISTANCE[units])


def over_fence(swing: Swing, words: Mapping[str, str] = WORDS) -> str:
    """Whole per cent, but never a certainty that no measurement has."""
    if swing.fence_clear_probability is None:
        return NOTHING
    per_cent = 100 * swing.fence_clear_probability
    if per_cent < 1:
        return words["word_under"].format(number=1)
    return words["word_over"].format(number=99) if per_cent > 99 else f"{per_cent:.0f}"


def flight(swing: Swing, words: Mapping[str, str] = WORDS) -> str:
    return words[f"word_{swing.flight}"] if swing.flight else NOTHING


def outcome(swing: Swing, words: Mapping[str, str] = WORDS) -> str:
    return words[f"word_{swing.ended if swing.ended in ('take', 'tip') else swing.outcome}"]


def pitch_speed(swing: Swing, units: Units) -> str:
    return _with_range(swing.pitch_speed_mps, swing.pitch_speed_sd_mps, SPEED[units])


def pitch_apex(swing: Swing, units: Units) -> str:
    """Highest point of the pitch above the ground, to a tenth of a foot or a centimetre."""
    scale = DISTANCE[units]
    return _with_range(swing.pitch_apex_m, swing.pitch_apex_sd_m, replace(scale, decimals=scale.decimals + 1))


def pitch_descent(swing: Swing) -> str:
    return _with_range(swing.pitch_descent_deg, swing.pitch_descent_sd_deg, ANGLE)


def pitch_place(swing: Swing, units: Units, words: Mapping[str, str] = WORDS) -> str:
    """Where it crosses the plate's front: left or right of the middle as the catcher sees it, and its height.

    The range is that of the less sure of the two.
    """
    if swing.pitch_plate_m is None or swing.pitch_plate_sd_m is None:
        return NOTHING
    whole = replace(DEPTH[units], decimals=0)
    side, height = (round(value / whole.si_per_unit) for value in swing.pitch_plate_m)
    aside = words["word_left" if side < 0 else "word_right"].format(number=abs(side)) if side else "0"
    return words["word_place"].format(aside=aside, height=height) + _range(max(swing.pitch_plate_sd_m), whole)


def early(swing: Swing, words: Mapping[str, str] = WORDS) -> str:
    """How long before the pitch would be over the plate's front the bat met it, or swung. [ms]"""
    if swing.early_s is None or swing.early_sd_s is None:
        return NOTHING
    value, off = round(1000 * swing.early_s), round(1000 * NINE_IN_TEN * swing.early_sd_s)
    shown = words["word_before" if value > 0 else "word_after"].format(number=abs(value)) if value else "0"
    return f"{shown} ±{off}"


def _with_range(value: float | None, sd: float | None, scale: Scale) -> str:
    if value is None:
        return NOTHING
    shown = f"{value / scale.si_per_unit:.{scale.decimals}f}"
    shown = shown.removeprefix("-") if float(shown) == 0 else shown  # no minus zero
    return shown if sd is None else shown + _range(sd, scale)


def _range(sd: float, scale: Scale) -> str:
    """" ±…": half of what holds nine in ten; never 0, for nothing is known exactly."""
    half = max(NINE_IN_TEN * sd / scale.si_per_unit, 10.0**-scale.decimals)
    return f" ±{half:.{scale.decimals}f}"


def found_by(detector: str, words: Mapping[str, str] = WORDS) -> str:
    """What found the ball, as said in a sentence."""
    _, _, network = detector.partition(", ")
    return words["word_found_network" if network else "word_found"].format(network=network)
