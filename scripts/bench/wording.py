"""Words and tables of the report. No figure of a result stands here."""

from collections.abc import Sequence

import numpy as np

from balltrack.flight.evidence import EDGE_BIAS_SD_PX, PULL_SD, SHIFT_SD_PX, SIZE_BIAS_SD
from bench.limit import BLURRED, BLURRED_SD_PX, SHARP_SD_PX

KINDS = {
    "hit": ("hit", "hits"),
    "miss": ("swing and miss", "swings and misses"),
    "foul_tip": ("foul tip", "foul tips"),
    "checked": ("checked swing", "checked swings"),
}

MADE_OF = """\
## What is rendered and what is real

Everything that is filmed here is rendered; no real pitch, swing or phone is in these figures. The renderer has its
own camera, its own flight of the ball (three laws of drag and three of lift, solved to a tight tolerance, some
unlike those that the measuring assumes) and its own noise, blur, rolling shutter, compression and sound; it shares
no such code with the program that it judges. What is real: the clips are H.264 and HEVC files as phones write them,
they are measured by the public command in its own process, and the marks and the lens are given with the errors of
a person. Truth is what the renderer drew. Exit speed, launch and spray are those of the ball as it leaves the bat;
contact is the ball's centre, depth along the field, height above it; carry is where the ball would first touch
level ground; tail is its sideways bend there."""

LIMIT_WORDS = f"""\
The limit is the bound of Cramér and Rao: no fit that is right on average can have a smaller standard deviation. It
is computed for each hit from the true launch and camera, the frames that truly show the ball flying, clear of
everything and inside the picture, and what is known beforehand: how surely the marks and the lens give the camera,
when contact was heard or seen, where balls are hit (on a tee: where it stands and the ball on it), usual drag and
lift. In each frame the centre (along each axis) and the diameter are taken to be known to {SHARP_SD_PX:g} px for a
sharp ball, rising in proportion to {BLURRED_SD_PX:g} px for one that is drawn out over {BLURRED:g} diameters and more:
light that is spread over a streak is fainter and its ends are soft. These figures are a judgement, not a measurement.
Each frame is taken to err by itself.

It is given twice. *Error / limit* takes diameters and centres as free of any bias that all frames share. Measuring
cannot: shade, blur and sharpening make a ball look larger or smaller, or nearer to the light, in all frames alike. So
the fit allows for {100 * SIZE_BIAS_SD:g} % and {EDGE_BIAS_SD_PX:g} px of the diameter, {100 * PULL_SD:g} % of the
diameter and {SHIFT_SD_PX:g} px of the centre, and for the rule book's play in the ball's true size. *Biases allowed*
is the limit with that same allowance. Both columns are the median of error / limit over the swings, divided by 0.6745,
the median of a normal error of one sd: 1 is a fit that could not be better.

The swings of a lesson share their camera and may be fitted together; the limit is that of a swing by itself with the
camera as the marks and the lens give it."""

KNOWN_GAPS = """\
What parts the two columns is the price of not trusting what all frames of a clip have alike. What parts the second
from 1 is the rest: frames in which the ball was there and not found or not used, frames whose errors are not
independent, centres worse than assumed, drag and lift unlike the usual ones, and a camera that is further off than its
marks make it believe. A ratio under 1 says that the biases were smaller than allowed for, or the noise smaller than
taken."""

UNKNOWN = """## What remains unknown

- No real clip has been measured beside a radar or another independent instrument. Whether these errors are those of
  real phones is not known.
- Phones sharpen, remove noise and stabilise in ways that no maker publishes. The renderer sharpens and removes noise a
  little; stabilised video, which moves the picture against its marks, is not rendered.
- The balls have seams and shade but no logos; grass, people and nets are simpler than real ones.
- One batter, one phone and one ball a lesson. Wind is steady."""


def bullets(*lines: str) -> str:
    """A list."""
    return "\n".join(f"- {line[0].upper()}{line[1:]}" for line in lines)


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A Markdown table, padded so that it can be read as it is."""
    cells = [[cell.replace("|", "/") for cell in row] for row in (head, *rows)]
    widths = [max(len(row[k]) for row in cells) for k in range(len(head))]
    lines = [
        "| " + " | ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) + " |" for row in cells
    ]
    return "\n".join([lines[0], "|" + "|".join("-" * (width + 2) for width in widths) + "|", *lines[1:]])


def count(number_of: int, one: str, many: str = "") -> str:
    """A number and its noun."""
    return f"{number_of} {one if number_of == 1 else many or one + 's'}"


def number(value: float, decimals: int, sign: str = "") -> str:
    """A figure, or a dash where there is none."""
    return f"{value:{sign}.{decimals}f}" if np.isfinite(value) else "-"


def percent(share: float, unit: str = " %") -> str:
    """A share, or a dash where there is none."""
    return f"{100 * share:.0f}{unit}" if np.isfinite(share) else "-"
