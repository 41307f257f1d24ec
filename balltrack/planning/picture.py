"""The plan as a picture: expected error on a map of places, and what the phone should see from the best one."""

import io
from typing import TYPE_CHECKING, Any

import numpy as np

from balltrack.camera.model import rotation_matrices
from balltrack.planning.advice import CAUTION, accuracy, length, stays, where
from balltrack.planning.safety import SafeZones
from balltrack.planning.scene import Scene
from balltrack.planning.survey import Survey
from balltrack.planning.view_drawing import draw_view
from balltrack.records.table import DISTANCE, SPEED, Units
from balltrack.records.wording import NINE_IN_TEN
from balltrack.units import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, FAINT, ALARM = "#14201f", "#77837f", "#3a3a3a"
# One hue, ever darker: reads the same in grey and to colour-blind eyes. Light is good.
SHADES = ("#f4f8fb", "#dbe8f1", "#bcd3e4", "#98bad3", "#739dbd", "#5280a3", "#356287")
AHEAD_M, ROUND_M = 6.0, 12.3  # the map reaches so far in front of the plate, and so far behind it and beside
RING_M: dict[Units, float] = {"us": 10 * 0.3048, "metric": 3.0}
STAYING = 0.9  # of the hits
LEVELS = 6
FINER, SMOOTH = 8, 0.7  # the map is drawn so much finer than surveyed, and smoothed over so much of its step


def draw_plan(found: Survey, scene: Scene, zones: SafeZones, units: Units) -> "Figure":
    """Draw the whole sheet on a figure of its own (no window, no shared state)."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.2, 10.4), facecolor="white")
    chart = figure.add_axes((0.02, 0.315, 0.96, 0.62))
    _draw_map(chart, found, scene, zones, units)
    draw_view(figure.add_axes((0.03, 0.075, 0.47, 0.2065)), found.best.stance.camera, scene)
    figure.text(
        0.5, 0.972, "Where to stand the tripod", ha="center", va="center", fontsize=15, color=INK, weight="bold"
    )
    figure.text(0.5, 0.948, _legend(units), ha="center", va="center", fontsize=9, color=INK)
    figure.text(0.03, 0.295, "What the phone should see", fontsize=10.5, color=INK, weight="bold")
    _write_facts(figure, found, scene, units)
    figure.text(0.03, 0.018, _folded(CAUTION, 125), fontsize=8.4, color=INK, linespacing=1.35)
    return figure


def plan_bytes(figure: "Figure", kind: str) -> bytes:
    """The figure as a file: ``kind`` is png or svg. The same bytes for the same figure."""
    import matplotlib

    data = io.BytesIO()
    bare = {"png": {"Software": None}, "svg": dict.fromkeys(("Date", "Creator", "Format", "Type"))}
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "balltrack", "hatch.linewidth": 0.7}):
        figure.savefig(data, format=kind, dpi=170, metadata=bare[kind])
    return data.getvalue()


def _legend(units: Units) -> str:
    return (
        f"Lines: nine in ten exit speeds are right to so many {SPEED[units].unit}; the lighter, the better. "
        "Dots: too few stay in the picture."
    )


def _write_facts(figure: "Figure", found: Survey, scene: Scene, units: Units) -> None:
    phone, best = scene.phone, found.best
    known = "from the marks alone" if phone.lens_share_sd is None else f"known to {100 * phone.lens_share_sd:g} %"
    across = np.degrees(phone.fov_rad)
    speed = scene.expected.speed_mps / SPEED[units].si_per_unit
    lines = [
        where(best, units)[0].upper() + where(best, units)[1:],
        f"Expect {accuracy(best, units)} (± holds nine in ten)",
        stays(best, scene)[0].upper() + stays(best, scene)[1:],
        f"Planned for a {scene.bats}-handed batter, {scene.delivery}, about {speed:.0f} {SPEED[units].unit}, "
        f"{scene.ground.ball.kind}",
        f"Phone: {phone.lines} lines, {phone.frames_per_s:.0f} frames a second, 1/{1 / phone.shutter_s:.0f} s, "
        f"{across:.0f}° wide; lens {known}",
    ]
    figure.text(0.535, 0.295, "The recommended place", fontsize=10.5, color=INK, weight="bold")
    text = "\n".join(_folded(line, 52, "\n   ") for line in lines)
    figure.text(0.535, 0.28, text, fontsize=8.8, color=INK, va="top", linespacing=1.5)


def _folded(text: str, width: int, joint: str = "\n") -> str:
    import textwrap

    return joint.join(textwrap.wrap(text, width))


def _draw_map(axes: "Axes", found: Survey, scene: Scene, zones: SafeZones, units: Units) -> None:
    scale = DISTANCE[units].si_per_unit
    axes.set_aspect("equal")
    axes.axis("off")
    axes.set_xlim(-ROUND_M / scale, ROUND_M / scale)
    axes.set_ylim(-ROUND_M / scale, AHEAD_M / scale)
    _draw_error(axes, found, zones, units)
    _draw_zones(axes, zones, scale)
    _draw_ground(axes, scene, scale)
    _draw_rings(axes, zones, units)
    _draw_best(axes, found, scene, units)


def _draw_error(axes: "Axes", found: Survey, zones: SafeZones, units: Units) -> None:
    """Shaded bands of the exit speed's ±, lines between them with their numbers, dots where hits leave the picture."""
    from matplotlib.ticker import MaxNLocator

    places = _fan_m(found)
    x, y = np.moveaxis(places, 2, 0) / DISTANCE[units].si_per_unit
    off = np.ma.masked_invalid(NINE_IN_TEN * _finely(found, found.exit_speed_sd_mps) / SPEED[units].si_per_unit)
    low, high = float(off.min()), float(np.percentile(off.compressed(), 95))
    levels = MaxNLocator(LEVELS, min_n_ticks=4).tick_values(low, high)
    axes.contourf(x, y, off, levels=levels, colors=SHADES, extend="max", zorder=1)
    shown = np.ma.masked_where(zones.unsafe(places), off)  # a number must not stand where nobody may
    lines = axes.contour(x, y, shown, levels=levels, colors=INK, linewidths=0.7, zorder=1.5)
    for text in axes.clabel(lines, fmt=lambda value: f"±{value:g}", fontsize=8.5):
        text.set_path_effects(_halo(2.5))
    axes.contourf(x, y, _finely(found, found.share), levels=[-1, STAYING], colors="none", hatches=["..."], zorder=1.6)


def _finer(values: Floats) -> Floats:
    return np.interp(np.linspace(0, len(values) - 1, FINER * (len(values) - 1) + 1), np.arange(len(values)), values)


def _fan_m(found: Survey) -> Floats:
    """(b, d, 2) places of a finer fan."""
    bearing, distance = np.meshgrid(_finer(found.bearing_rad), _finer(found.distance_m), indexing="ij")
    return np.stack([distance * np.sin(bearing), -distance * np.cos(bearing)], axis=-1)


def _finely(found: Survey, values: Floats) -> Floats:
    """(b, d) values on the finer fan, smoothed over less than a step of the survey; NaN where the survey has NaN."""
    from scipy.ndimage import gaussian_filter, map_coordinates

    size = [FINER * (count - 1) + 1 for count in values.shape]
    where = np.meshgrid(*(np.linspace(0, n - 1, m) for n, m in zip(values.shape, size, strict=True)), indexing="ij")
    known = np.isfinite(values).astype(float)
    weight, total = (map_coordinates(each, where, order=1) for each in (known, np.nan_to_num(values) * known))
    weight, total = (gaussian_filter(each, SMOOTH * FINER, mode="nearest") for each in (weight, total))
    return np.where(map_coordinates(known, where, order=0) > 0, total / np.maximum(weight, 1e-9), np.nan)


def _draw_zones(axes: "Axes", zones: SafeZones, scale: float) -> None:
    side = np.linspace(-ROUND_M, ROUND_M, 601)
    x, y = np.meshgrid(side, side)
    places = np.stack([x, y], axis=-1)
    for inside, hatch in (
        (zones.in_the_way(places), "//"),
        (zones.within_reach(places), "xx"),
    ):
        level = inside.astype(float)
        axes.contourf(x / scale, y / scale, level, levels=[0.5, 2], colors="white", zorder=2)
        drawn = axes.contourf(x / scale, y / scale, level, levels=[0.5, 2], colors="none", hatches=[hatch], zorder=2.1)
        drawn.set_edgecolor(FAINT)
        drawn.set_linewidth(0.0)
        axes.contour(x / scale, y / scale, level, levels=[0.5], colors=ALARM, linewidths=1.3, zorder=2.2)


def _draw_ground(axes: "Axes", scene: Scene, scale: float) -> None:
    from matplotlib.patches import Circle, Polygon

    far = 2 * ROUND_M
    for sign in (-1, 1):
        axes.plot([0, sign * far / scale], [0, far / scale], color=INK, linewidth=1.0, zorder=3)
    for box in scene.ground.boxes_m:
        axes.add_patch(Polygon(box[:, :2] / scale, fill=False, edgecolor=INK, linewidth=0.9, zorder=3))
    axes.add_patch(
        Polygon(scene.ground.plate_m[:, :2] / scale, facecolor="white", edgecolor=INK, linewidth=1.2, zorder=3.1)
    )
    for body in scene.people:
        spot = (body.x_m / scale, body.y_m / scale)
        axes.add_patch(Circle(spot, body.radius_m / scale, facecolor=INK, edgecolor="white", zorder=3.2))
    _label(axes, (-8.4 / scale, 3.6 / scale), "balls fly here:\nno phone, no person", weight="bold")
    _label(axes, (0, 2.6 / scale), "reach of the bat,\nand room for a net")
    for body, name in zip(scene.people, ("batter", "catcher"), strict=False):
        side = -1 if body.x_m < 0 else 1
        spot = ((body.x_m + 0.5 * side) / scale, body.y_m / scale)
        _label(axes, spot, name, ha="right" if side < 0 else "left")


def _label(axes: "Axes", spot: tuple[float, float], words: str, **how: Any) -> None:
    sheet: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.9}
    style: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": 9, "color": INK, "bbox": sheet, "zorder": 6}
    axes.text(*spot, words, **style | how)


def _halo(width: float = 3.0) -> list[Any]:
    from matplotlib import patheffects

    return [patheffects.withStroke(linewidth=width, foreground="white")]


def _draw_rings(axes: "Axes", zones: SafeZones, units: Units) -> None:
    """Distances from the plate's tip, behind it."""
    scale, step_m = DISTANCE[units].si_per_unit, RING_M[units]
    turn = np.linspace(-zones.widest_rad, zones.widest_rad, 121)
    side = zones.widest_rad + np.radians(6.0)
    for radius_m in np.arange(step_m, ROUND_M, step_m):
        radius = radius_m / scale
        axes.plot(
            radius * np.sin(turn), -radius * np.cos(turn), color=INK, linewidth=0.5, linestyle=(0, (1, 4)), zorder=2.5
        )
        _label(
            axes,
            (-radius * np.sin(side), -radius * np.cos(side)),
            f"{radius:.0f} {DISTANCE[units].unit}",
            fontsize=8,
            zorder=2.6,
        )


def _draw_best(axes: "Axes", found: Survey, scene: Scene, units: Units) -> None:
    """The recommended place, how wide the phone sees from there, and its distance and height in words."""
    scale, best = DISTANCE[units].si_per_unit, found.best
    spot = best.place_m[:2] / scale
    ahead = rotation_matrices(best.stance.camera[:3])[2]
    pan = np.arctan2(ahead[0], ahead[1])
    for edge in (pan - scene.phone.fov_rad / 2, pan + scene.phone.fov_rad / 2):
        end = spot + 2 * ROUND_M / scale * np.array([np.sin(edge), np.cos(edge)])
        axes.plot(*np.stack([spot, end]).T, color=INK, linewidth=1.1, linestyle=(0, (6, 3)), zorder=4)
    axes.plot(
        *spot, marker="*", markersize=22, markerfacecolor="white", markeredgecolor=INK, markeredgewidth=1.6, zorder=5
    )
    words = f"stand here\n{where(best, units).replace(', ', chr(10))}\nlens {length(float(best.place_m[2]), units)} up"
    _label(axes, (spot[0], spot[1] - 0.6 / scale), words, va="top", weight="bold")
