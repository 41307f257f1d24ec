"""One swing as the page prints it: a line of the table."""

from dataclasses import dataclass

from balltrack.records import wording
from balltrack.records.swing import Swing
from balltrack.records.table import ANGLE, DEPTH, DISTANCE, SPEED, WHOLE_MS, Units
from balltrack.review.language import say, texts


@dataclass(frozen=True, slots=True)
class SwingRow:
    """Words ready to print; ``number`` counts the lines of swings.jsonl from 1."""

    number: int
    swing: Swing
    outcome: str
    exit_speed: str
    launch: str
    direction: str
    side: str
    flight: str
    depth: str
    carry: str
    over_fence: str
    quality: str
    pitch: str  # what was seen of it; empty where nothing was
    notes: str  # the coach's


def swing_row(number: int, swing: Swing, units: Units, notes: str = "") -> SwingRow:
    """Put a swing in the reader's units."""
    return SwingRow(
        number=number,
        swing=swing,
        outcome=say(f"alone_{swing.ended if swing.ended in ('take', 'tip') else swing.outcome}"),
        exit_speed=wording.exit_speed(swing, units),
        launch=wording.launch(swing),
        direction=wording.direction(swing, texts()),
        side=say(f"field_{swing.field_side}") if swing.field_side else wording.NOTHING,
        flight=wording.flight(swing, texts()),
        depth=wording.depth(swing, units, texts()),
        carry=wording.carry(swing, units),
        over_fence=wording.over_fence(swing, texts()),
        quality=say(f"quality_{swing.quality}") if swing.quality else wording.NOTHING,
        pitch=_pitch(swing, units),
        notes=notes,
    )


def _pitch(swing: Swing, units: Units) -> str:
    told = (
        ("pitch_speed", wording.pitch_speed(swing, units), SPEED[units].unit),
        ("pitch_top", wording.pitch_apex(swing, units), DISTANCE[units].unit),
        ("pitch_down", wording.pitch_descent(swing), ANGLE.unit),
        ("pitch_over", wording.pitch_place(swing, units, texts()), DEPTH[units].unit),
        ("pitch_met", wording.early(swing, texts()), WHOLE_MS.unit),
    )
    parts = [say(name, number=number, unit=unit) for name, number, unit in told if number != wording.NOTHING]
    return say("pitch_told", parts="; ".join(parts)) if parts else ""
