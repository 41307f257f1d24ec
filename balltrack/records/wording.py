"""A swing's numbers as a person reads them: one wording for the terminal and the page. Units stand in the headings."""

from balltrack.records.swing import Swing
from balltrack.records.table import ANGLE, DEPTH, DISTANCE, OUTCOME_WORDS, SPEED, Scale, Units

NINE_IN_TEN = 1.645  # standard deviations of a normal distribution to each side that hold 90 in 100
NOTHING = "-"  # where a number could not be had
PLUS_MINUS_MEANS = "± holds nine in ten: of ten numbers like it, about nine are no further off."
DIRECTION_MEANS = "Direction: degrees left (L) or right (R) of second base, seen from the plate; foul lines at 45."


def exit_speed(swing: Swing, units: Units) -> str:
    return _with_range(swing.exit_speed_mps, swing.exit_speed_sd_mps, SPEED[units])


def launch(swing: Swing) -> str:
    return _with_range(swing.launch_deg, swing.launch_sd_deg, ANGLE)


def direction(swing: Swing) -> str:
    if swing.spray_deg is None or swing.spray_sd_deg is None:
        return NOTHING
    shown = f"{abs(swing.spray_deg):.1f}"
    letter = "" if shown == "0.0" else " L" if swing.spray_deg < 0 else " R"
    return f"{shown}{letter} ±{NINE_IN_TEN * swing.spray_sd_deg:.1f}"


def depth(swing: Swing, units: Units) -> str:
    """Contact ahead of or behind the plate's front edge."""
    if swing.contact_depth_m is None:
        return NOTHING
    value = round(swing.contact_depth_m / DEPTH[units].si_per_unit)
    return f"{abs(value)} {'ahead' if value > 0 else 'behind'}" if value else "0"


def carry(swing: Swing, units: Units) -> str:
    return _with_range(swing.carry_m, swing.carry_sd_m, DISTANCE[units])


def over_fence(swing: Swing) -> str:
    """Whole per cent, but never a certainty that no measurement has."""
    if swing.fence_clear_probability is None:
        return NOTHING
    per_cent = 100 * swing.fence_clear_probability
    return "under 1" if per_cent < 1 else "over 99" if per_cent > 99 else f"{per_cent:.0f}"


def flight(swing: Swing) -> str:
    return swing.flight.replace("_", " ") if swing.flight else NOTHING


def outcome(swing: Swing) -> str:
    return OUTCOME_WORDS[swing.outcome]


def _with_range(value: float | None, sd: float | None, scale: Scale) -> str:
    if value is None:
        return NOTHING
    shown = f"{value / scale.si_per_unit:.{scale.decimals}f}"
    shown = shown.removeprefix("-") if float(shown) == 0 else shown  # no minus zero
    return shown if sd is None else f"{shown} ±{NINE_IN_TEN * sd / scale.si_per_unit:.{scale.decimals}f}"


def found_by(detector: str) -> str:
    """What found the ball, as said in a sentence."""
    motion, _, network = detector.partition(", ")
    return f"{motion} and the network {network}" if network else f"its {motion} alone"
