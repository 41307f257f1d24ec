"""The chart of a player's lessons: a mark at each median, a bar as long as its interval, kinds told by shape."""

import datetime
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure

from balltrack.records.logbook.entry import BlockEntry
from balltrack.review.history import series_of
from balltrack.review.history_chart import draw_history_chart
from balltrack.review.style import chart_png, chart_svg
from tests.records.logbooks import HIT, TEE, entry, season
from tests.review.test_history import kept


def marks(figure: Figure) -> dict[str, list[tuple[float, float]]]:
    """Where marks stand, by shape: days from 1970-01-01, mph."""
    found: dict[str, list[tuple[float, float]]] = {}
    for line in figure.axes[0].lines:
        if line.get_marker() not in ("None", "", None):
            x, y = (float(np.asarray(each)[0]) for each in line.get_data())
            found.setdefault(str(line.get_marker()), []).append((x, y))
    return found


def test_marks_stand_at_the_day_and_the_median_and_bars_reach_as_far_as_the_interval(tmp_path: Path) -> None:
    (series,) = series_of(kept(tmp_path, *season(tmp_path, gain_mps=1.0)))
    figure = draw_history_chart("Robin", [series], "us")
    ((shape, found),) = marks(figure).items()
    speeds_mph = [
        float(np.median([swing.exit_speed_mps or 0.0 for swing in point.group.swings])) / 0.44704  # international mile
        for point in series.points
    ]
    days = [(datetime.date(2026, month, 1) - datetime.date(1970, 1, 1)).days for month in (3, 4, 5)]
    assert shape == "o"
    assert found == [pytest.approx(each, abs=0.01) for each in zip(days, speeds_mph, strict=True)]
    ends = [(np.asarray(line.get_xdata()), np.asarray(line.get_ydata())) for line in figure.axes[0].lines]
    bars = [y for x, y in ends if len(x) == 2 and x[0] == x[1]]
    assert len(bars) == 3
    median = series.points[0].median("exit_speed")
    assert median.low is not None and median.high is not None
    assert bars[0].tolist() == pytest.approx([median.low / 0.44704, median.high / 0.44704])


def test_tee_and_live_have_shapes_of_their_own_and_few_swings_no_bar(tmp_path: Path) -> None:
    live = replace(HIT, block="02-live", swing="02-live/1#1")
    made = replace(entry(tmp_path / "a", swings=[HIT, live]), blocks=(TEE, BlockEntry("02-live", "Live", "live")))
    figure = draw_history_chart("$Robin$ O’Neil", series_of(kept(tmp_path, made)), "metric")
    assert list(marks(figure)) == ["o", "s"]
    assert all(np.size(line.get_xdata()) == 1 for line in figure.axes[0].lines)
    svg = chart_svg(figure)
    for words in ("Off a tee", "Pitched live", "exit speed, km/h", "$Robin$ O’Neil"):
        assert words in svg
    assert chart_png(figure).startswith(b"\x89PNG")


def test_a_player_without_numbers_has_an_empty_chart() -> None:
    assert "Robin" in chart_svg(draw_history_chart("Robin", (), "us"))
