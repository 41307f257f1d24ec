"""Where the bat met the ball: over the plate from above, and from the side. Ball and plate are to scale."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

from balltrack.field import BOX_GAP_M, PLATE_DEPTH_M, PLATE_HALF_M
from balltrack.lesson import Lesson
from balltrack.records.swing import Swing
from balltrack.records.table import DEPTH, Units
from balltrack.records.wording import NINE_IN_TEN
from balltrack.review.axes import BELOW_PT, name_across
from balltrack.review.bands import TIMINGS, Bands, Timing, timing
from balltrack.review.groups import lesson_group
from balltrack.review.labels import number_marks
from balltrack.review.language import say, texts
from balltrack.review.numbered import Numbered, numbered, numbers_said
from balltrack.review.style import (
    FAINT,
    INK,
    PAPER,
    SMALL_PT,
    SOFT,
    TEXT_PT,
    TINT,
    WIDTH_PT,
    Box,
    Frame,
    Look,
    dot,
    framed,
    looks_of,
)
from balltrack.units import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FEW = 12  # up to so many balls, each shows its own doubt; above, crosses hide more than they tell
MANY = 40  # above so many, only mistimed balls are numbered
MOST_SAID = 8  # numbers of swings in one sentence
MARK_PT = 5.0
SIDE_PT, BETWEEN_PT, NAME_PT = 8.0, 17.0, 14.0  # room beside and between the two views; a name
SPARE_M = 0.06  # free around the outermost ball
GROUND_M, GROUND_SEEN_M = 0.06, 0.15  # shown below the ground, and not without cause
BEHIND_M, AHEAD_M = 0.22, 0.55  # shown behind the plate's tip and ahead of its front edge at least
USUAL_UP_M = (0.5, 0.95)  # heights shown at least
BOX_M = 0.1  # shown of each batter's box
STEP: dict[Units, float] = {"us": 10.0, "metric": 25.0}  # of the scale of depth


@dataclass(frozen=True, slots=True)
class _Scene:
    """The balls that both views show."""

    met: tuple[Numbered, ...]
    looks: Mapping[str, Look]
    radius_m: float
    mistimed: frozenset[int]  # numbers of swings that were surely early, late or jammed


def draw_contact_chart(lesson: Lesson, swings: Sequence[Swing], units: Units, bands: Bands | None = None) -> "Figure":
    """Draw both views on a figure of its own (no window, no shared state)."""
    bands = bands or Bands()
    met = _met(swings)
    looks = looks_of(lesson, swings)
    key = [look for name, look in looks.items() if any(each.swing.block == name for each in met)]
    depths, heights = _spans(met, lesson)
    half_m = PLATE_HALF_M + BOX_GAP_M + BOX_M
    per_m = (WIDTH_PT - 2 * SIDE_PT) / (depths[1] - depths[0])
    above_pt, side_pt = 2 * half_m * per_m, (heights[1] - heights[0]) * per_m
    picture_pt = above_pt + side_pt + BETWEEN_PT + BELOW_PT + NAME_PT
    title = say("contact_title", player=lesson.player.name)
    figure, box = framed(Frame(title, key, _note(lesson, swings, units, bands)), picture_pt)
    wide = WIDTH_PT - 2 * SIDE_PT
    side = figure.add_axes(Box(SIDE_PT, box.bottom + BELOW_PT, wide, side_pt).of(figure))
    above = figure.add_axes(Box(SIDE_PT, box.bottom + BELOW_PT + side_pt + BETWEEN_PT, wide, above_pt).of(figure))
    above.set_ylim(half_m, -half_m)  # left field, at negative x, is up
    side.set_ylim(*heights)
    for axes in (above, side):
        axes.set_xlim(*depths)
        axes.set_aspect("equal")
    _draw_from_above(above, lesson.player.bats, bands)
    _draw_from_side(side, units)
    mistimed = {number for word, numbers in _timed(lesson, swings, bands) if word != "on time" for number in numbers}
    scene = _Scene(met, looks, lesson.ball.diameter_m / 2, frozenset(mistimed))
    _draw_balls(above, scene, 0)
    _draw_balls(side, scene, 2)
    if not met:
        above.text(0.5, 0.5, say("contact_none"), transform=above.transAxes, ha="center", fontsize=TEXT_PT + 1)
    return figure


def words_of_contact_chart(lesson: Lesson, swings: Sequence[Swing], units: Units, bands: Bands | None = None) -> str:
    """What the chart shows, for who cannot see it."""
    met = _met(swings)
    if not met:
        return say("contact_words_none")
    middle = median([_place(each)[1] for each in met])
    scale = DEPTH[units]
    depth = f"{abs(middle) / scale.si_per_unit:.0f}"
    side = "at" if depth == "0" else "ahead" if middle > 0 else "behind"
    words = [say(f"contact_words_{side}", count=len(met), depth=depth, unit=scale.unit)]
    for name, each in _timed(lesson, swings, bands or Bands()):
        timing_name = texts()[f"timing_{name.replace(' ', '_')}"]
        words.append(say("contact_words_timed", timing=timing_name, numbers=numbers_said(each, MOST_SAID)))
    return " ".join(words)


def _met(swings: Sequence[Swing]) -> tuple[Numbered, ...]:
    return tuple(each for each in numbered(swings) if each.swing.contact_m is not None)


def _place(each: Numbered) -> Floats:
    """(3,) the ball's centre: across, ahead of the plate's front edge, up. [m]"""
    return np.asarray(np.array(each.swing.contact_m) - [0.0, PLATE_DEPTH_M, 0.0], float)


def _timed(lesson: Lesson, swings: Sequence[Swing], bands: Bands) -> list[tuple[Timing, list[int]]]:
    """Numbers of the swings that were surely early, on time, late or jammed, where there are any."""
    group = lesson_group(lesson, swings)
    found: dict[Timing, list[int]] = {name: [] for name in TIMINGS if name != "not clear"}
    for number, swing, delivery in zip(group.numbers, group.swings, group.deliveries, strict=True):
        word = timing(swing, delivery, lesson.player.bats, bands)
        if word in found:
            found[word].append(number)
    return [(name, numbers) for name, numbers in found.items() if numbers]


def _note(lesson: Lesson, swings: Sequence[Swing], units: Units, bands: Bands) -> str:
    met = _met(swings)
    scale = DEPTH[units]
    words = [say("contact_scale")]
    sds = [each.swing.contact_sd_m for each in met if each.swing.contact_sd_m]
    if sds:
        parts = (NINE_IN_TEN * median(part) / scale.si_per_unit for part in zip(*sds, strict=True))
        across, along, up = (f"{part:.1f}" for part in parts)
        words.append(say("contact_sure", along=along, across=across, up=up, unit=scale.unit))
    timed = [(name, each) for name, each in _timed(lesson, swings, bands) if name != "on time"]
    if timed:
        told = [say(f"contact_{name}", numbers=numbers_said(each, MOST_SAID)) for name, each in timed]
        words.append(say("contact_bold", timings="; ".join(told)))
    deliveries = {block.name: block.delivery for block in lesson.blocks}
    if any(deliveries.get(each.swing.block) == "tee" for each in met):
        words.append(say("contact_tee"))
    return " ".join(words)


def _spans(met: Sequence[Numbered], lesson: Lesson) -> tuple[tuple[float, float], tuple[float, float]]:
    """Depths and heights that hold the plate and every ball. [m] The ground only where a ball is near it."""
    places = np.array([_place(each) for each in met]).reshape(-1, 3)
    ahead, up = places[:, 1], places[:, 2]
    spare = lesson.ball.diameter_m / 2 + SPARE_M
    depths = min([-PLATE_DEPTH_M - BEHIND_M, *(ahead - spare)]), max([AHEAD_M, *(ahead + spare)])
    low, high = min([USUAL_UP_M[0], *(up - spare)]), max([USUAL_UP_M[1], *(up + spare)])
    return depths, (low if low > GROUND_SEEN_M else -GROUND_M, high)


def _draw_from_above(axes: "Axes", bats: str, bands: Bands) -> None:
    from matplotlib.patches import Polygon, Rectangle

    axes.axis("off")
    axes.set_facecolor(PAPER)
    toward_batter = -1.0 if bats == "right" else 1.0
    low, high = axes.get_xlim()
    edge, reach = PLATE_HALF_M / 3, PLATE_HALF_M + BOX_GAP_M
    thirds = (
        ("outside", bands.outside_m, -reach, -edge),
        ("middle", bands.middle_m, -edge, edge),
        ("inside", bands.inside_m, edge, reach),
    )
    for name, (from_m, to_m), near, far in thirds:
        sides = sorted((toward_batter * near, toward_batter * far))
        zone = Rectangle((from_m, sides[0]), to_m - from_m, sides[1] - sides[0])
        zone.set(facecolor=TINT, edgecolor=FAINT, linewidth=0.6, linestyle=(0, (2, 2)), zorder=0)
        axes.add_patch(zone)
        _say(axes, say(f"third_{name}"), (low, sum(sides) / 2), (2, 0), "left")
    half, depth = PLATE_HALF_M, PLATE_DEPTH_M
    corners = np.array([[-depth, 0.0], [-half, -half], [0.0, -half], [0.0, half], [-half, half]])
    axes.add_patch(Polygon(corners, facecolor=PAPER, edgecolor=INK, linewidth=1.2, zorder=1))
    for sign in (-1, 1):
        line = sign * (PLATE_HALF_M + BOX_GAP_M)
        axes.plot([low, high], [line, line], color=INK, linewidth=1.0, zorder=1)
    his, other = toward_batter * (reach + BOX_M / 2), -toward_batter * (reach + BOX_M / 2)
    _say(axes, say("to_jammed"), (low, his), (2, 0), "left", INK)
    _say(axes, say("contact_batter"), ((low + high) / 2, his), (0, 0), "center")
    _say(axes, say("to_early"), (high, his), (-2, 0), "right", INK)
    _say(axes, say("to_late"), (low, other), (2, 0), "left", INK)
    _say(axes, say("to_early"), (high, other), (-2, 0), "right", INK)
    axes.set_title(say("from_above"), loc="left", fontsize=SMALL_PT, color=SOFT, pad=3)
    axes.set_title(say("to_pitcher"), loc="right", fontsize=SMALL_PT, color=SOFT, pad=3)


def _say(
    axes: "Axes", words: str, place: tuple[float, float], off_pt: tuple[float, float], align: str, color: str = SOFT
) -> None:
    axes.annotate(
        words,
        place,
        xytext=off_pt,
        textcoords="offset points",
        ha=align,
        va="center_baseline",
        fontsize=SMALL_PT,
        color=color,
        zorder=3,
    )


def _draw_from_side(axes: "Axes", units: Units) -> None:
    from matplotlib.patches import Rectangle

    scale, step = DEPTH[units], STEP[units]
    for name in ("left", "right", "top"):
        axes.spines[name].set_visible(False)
    axes.spines["bottom"].set_color(SOFT)
    low, high = axes.get_xlim()
    if axes.get_ylim()[0] < 0:
        axes.axhspan(axes.get_ylim()[0], 0.0, facecolor=TINT, edgecolor="none", zorder=0)
        plate = Rectangle((-PLATE_DEPTH_M, -0.02), PLATE_DEPTH_M, 0.02, facecolor=PAPER, edgecolor=INK, zorder=1)
        axes.add_patch(plate)
    for depth in (-PLATE_DEPTH_M, 0.0):  # the plate's tip and front edge
        axes.axvline(depth, color=FAINT, linewidth=0.8, linestyle=(0, (4, 3)), zorder=0.5)
    ticks = np.arange(np.ceil(low / scale.si_per_unit / step), np.floor(high / scale.si_per_unit / step) + 1) * step
    axes.set_xticks(ticks * scale.si_per_unit, [f"{tick:+.0f}" if tick else "0" for tick in ticks])
    axes.set_yticks([])
    axes.tick_params(length=3, width=0.8, color=SOFT, labelsize=SMALL_PT, labelcolor=SOFT, pad=2.5)
    bottom, top = (limit / scale.si_per_unit for limit in axes.get_ylim())
    for height in np.arange(np.ceil(max(bottom, 0.0) / step), np.floor(top / step) + 1) * step:
        level = height * scale.si_per_unit
        axes.axhline(level, color=FAINT, linewidth=0.5, alpha=0.5, zorder=0)
        if height < top - 0.3 * step:
            _say(axes, say("contact_high", height=f"{height:.0f}", unit=scale.unit), (low, level), (1, 5), "left")
    axes.set_title(say("from_side"), loc="left", fontsize=SMALL_PT, color=SOFT, pad=3)
    name_across(axes, say("contact_axis", unit=scale.unit))


def _draw_balls(axes: "Axes", scene: _Scene, upward: int) -> None:
    """Each ball to scale about its block's mark; ``upward`` is the coordinate that the view shows upward."""
    from matplotlib.patches import Circle

    met, looks, radius_m = scene.met, scene.looks, scene.radius_m

    strength = min(1.0, (FEW / max(len(met), 1)) ** 0.5)
    for each in met:
        place, look = _place(each)[[1, upward]], looks[each.swing.block]
        spot = (float(place[0]), float(place[1]))
        ball = Circle(spot, radius_m, facecolor=look.fill, alpha=0.25 * strength**2, edgecolor="none")
        bold = {"linewidth": 1.6} if each.number in scene.mistimed else {"linewidth": 0.7, "alpha": strength}
        edge = Circle(spot, radius_m, fill=False, edgecolor=INK, **bold)
        for patch in (ball, edge):
            patch.set_zorder(5 if each.number in scene.mistimed else 4)
            axes.add_artist(patch)
        if len(met) <= FEW and each.swing.contact_sd_m is not None:
            doubt = NINE_IN_TEN * np.array(each.swing.contact_sd_m)[[1, upward]]
            axes.plot(spot[0] + doubt[0] * np.array([-1, 1]), [spot[1]] * 2, color=INK, linewidth=0.7, zorder=5)
            axes.plot([spot[0]] * 2, spot[1] + doubt[1] * np.array([-1, 1]), color=INK, linewidth=0.7, zorder=5)
        mark = dot(look, each.swing.quality != "poor", MARK_PT)
        mark.set_data([spot[0]], [spot[1]])
        mark.set_zorder(6)
        axes.add_artist(mark)
    order = sorted(met, key=lambda each: -abs(_place(each)[1]))  # the unusual ones first
    places = np.array([_place(each)[[1, upward]] for each in order])
    told = [each.number if len(met) <= MANY or each.number in scene.mistimed else None for each in order]
    number_marks(axes, places, told, MARK_PT)
