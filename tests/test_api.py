"""A lesson from Python: the same numbers, pictures and words as in the review, by names that any editor knows."""

import ast
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import get_args

import numpy as np
import pytest

import balltrack
from balltrack.errors import LessonError, MeasureError, RecordError
from balltrack.records.alone import alone
from balltrack.records.store import read_swings
from balltrack.records.swing import Swing, to_json
from balltrack.review.groups import groups_of
from balltrack.review.own_best import own_best
from balltrack.review.tally import tally

PACKAGE = Path(balltrack.__file__)


@pytest.fixture
def folder(measured_sample: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(measured_sample, tmp_path / "lesson"))


@pytest.fixture(scope="module")
def lesson(measured_sample: Path) -> balltrack.MeasuredLesson:
    return balltrack.open_lesson(measured_sample)


def with_swings(folder: Path, change: Callable[[tuple[Swing, ...]], list[Swing]]) -> balltrack.MeasuredLesson:
    path = folder / "results" / "swings.jsonl"
    path.write_text("".join(to_json(swing) + "\n" for swing in change(read_swings(path))), encoding="utf-8")
    return balltrack.open_lesson(folder)


def test_importing_the_package_imports_nothing_slow() -> None:
    code = "import sys, balltrack; dir(balltrack); print(*sorted({name.split('.')[0] for name in sys.modules}))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"numpy", "scipy", "pandas", "matplotlib", "cv2", "av", "pydantic", "onnxruntime"} & set(
        done.stdout.split()
    )


def test_a_lesson_is_opened_without_pandas_matplotlib_or_a_network(measured_sample: Path) -> None:
    code = "import sys, balltrack; balltrack.open_lesson(sys.argv[1]); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code, measured_sample], capture_output=True, text=True, check=True)
    assert "balltrack.api" in done.stdout.split()
    assert not {"pandas", "matplotlib", "onnxruntime", "sqlalchemy"} & set(done.stdout.split())


def test_names_for_type_checkers_are_the_names_that_are_given() -> None:
    tree = ast.parse(PACKAGE.read_text(encoding="utf-8"))
    told = {
        (node.module, alias.name)
        for part in tree.body
        if isinstance(part, ast.If)
        for node in ast.walk(part)
        if isinstance(node, ast.ImportFrom) and node.module != "importlib"
        for alias in node.names
    }
    assert told == {(home, name) for home, names in balltrack._HOMES.items() for name in names}


def test_each_name_is_there_and_is_listed() -> None:
    for names in balltrack._HOMES.values():
        for name in names:
            assert getattr(balltrack, name) is not None
            assert name in dir(balltrack)


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'open_leson'"):
        getattr(balltrack, "open_leson")  # noqa: B009 - a type checker refuses the plain way


def test_the_table_has_the_records_of_the_lesson(lesson: balltrack.MeasuredLesson, measured_sample: Path) -> None:
    records = read_swings(measured_sample / "results" / "swings.jsonl")
    frame = lesson.swings()
    assert lesson.records == records
    assert frame["exit_speed_mps"].tolist() == [swing.exit_speed_mps for swing in records]
    frame.loc[1, "exit_speed_mps"] = 0.0  # a reader's frame is the reader's own
    assert lesson.swings()["exit_speed_mps"].tolist() == [swing.exit_speed_mps for swing in records]


def test_a_swing_left_out_keeps_its_row_and_counts_nowhere(folder: Path) -> None:
    found = with_swings(folder, lambda swings: [replace(swings[0], excluded="a bunt"), *swings[1:]])
    assert found.swings()["counts"].tolist() == [False, True]
    assert found.group().numbers == (2,)
    assert found.tally().measured == (2,)
    assert found.tally().excluded == (1,)
    assert "1 swing" in found.chart_words("order")


def test_tallies_are_those_of_the_review(lesson: balltrack.MeasuredLesson) -> None:
    bands = balltrack.Bands(ground_ball_deg=16.2)  # between the two swings' launch angles of about 16.0° and 16.5°
    whole, *blocks = groups_of(lesson.entered, lesson.records)
    own = own_best(whole, bands)
    assert lesson.tally(bands=bands) == tally(whole, bands, own)
    assert [lesson.tally(block.key, bands) for block in blocks] == [tally(block, bands, own) for block in blocks]
    assert {share.name: share.count for share in lesson.tally(bands=bands).flights}["ground_ball"] == 1


def test_a_change_between_blocks_is_said_in_words(folder: Path) -> None:
    """Nine swings a block whose speeds lie 10 m/s (22 mph) apart, each known to 0.3 m/s: too far for chance."""

    def many(swings: tuple[Swing, ...]) -> list[Swing]:
        return [
            replace(swing, swing=f"{swing.block}/x#{number}", exit_speed_mps=base + 0.1 * number, exit_speed_sd_mps=0.3)
            for swing, base in zip(swings, (20.0, 30.0), strict=True)
            for number in range(1, 10)
        ]

    found = with_swings(folder, many)
    change = found.change("exit_speed", "01-tee", "02-toss")
    assert change.verdict == "up"
    assert change.difference == pytest.approx(10.0)
    assert balltrack.change_words(change, "us").startswith("22.4 mph faster, likely 2")
    assert found.change("exit_speed", "02-toss", "01-tee").verdict == "down"
    assert len(found.group("first").numbers) == len(found.group("last").numbers) == 8  # of each kind half of nine
    assert found.takeaways("metric")[0].numbers == tuple(range(1, 19))


def test_each_chart_is_drawn_and_said(lesson: balltrack.MeasuredLesson) -> None:
    for name in get_args(balltrack.ChartName):
        figure = lesson.chart(name, "metric")
        assert figure.axes, name
        assert len(lesson.chart_words(name, "metric")) > 40, name
    assert balltrack.chart_png(lesson.chart("spray")).startswith(b"\x89PNG")
    assert "<svg" in balltrack.chart_svg(lesson.chart("spray"))


def test_the_camera_of_a_swing_sees_the_ball_where_it_was_followed(lesson: balltrack.MeasuredLesson) -> None:
    """From contact the ball flies on: by its first followed frame it is within 1/15 s, so within 2.5 m, of contact."""
    for number, swing in enumerate(lesson.records, start=1):
        track = lesson.track(number)
        first = track[track["used"]].iloc[0]
        assert swing.contact_m is not None and swing.contact_s is not None and swing.exit_speed_mps is not None
        seen_px = balltrack.project(np.array([swing.contact_m]), lesson.camera(number))[0]
        pixels_per_m = first["diameter_px"] / lesson.entered.ball.diameter_m
        flown_m = swing.exit_speed_mps * (first["time_s"] - swing.contact_s)
        assert 0 < flown_m < 2.5
        apart_px = np.hypot(*(seen_px - first[["u_px", "v_px"]].to_numpy(dtype=float)))
        assert apart_px < 1.5 * flown_m * pixels_per_m  # it comes nearer or goes off a little meanwhile


def test_the_camera_of_a_steady_phone_is_the_one_that_the_marks_gave(lesson: balltrack.MeasuredLesson) -> None:
    for number in (1, 2):
        assert lesson.camera(number).parameters == pytest.approx(lesson.solved.camera.parameters, abs=1e-3, rel=1e-3)


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda lesson: lesson.group("03-live"), 'no group "03-live"'),
        (lambda lesson: lesson.chart("pie"), 'no chart "pie"'),
        (lambda lesson: lesson.track(0), "no swing 0; this lesson has 2"),
        (lambda lesson: lesson.camera(3), "no swing 3; this lesson has 2"),
    ],
)
def test_what_is_not_there_is_told_in_one_line(
    lesson: balltrack.MeasuredLesson, ask: Callable[[balltrack.MeasuredLesson], object], words: str
) -> None:
    with pytest.raises(RecordError, match=words) as caught:
        ask(lesson)
    assert "\n" not in str(caught.value)


def test_a_lesson_that_was_not_measured_says_how_to(folder: Path) -> None:
    shutil.rmtree(folder / "results")
    with pytest.raises(RecordError, match="not measured yet; measure it first"):
        balltrack.open_lesson(folder)
    with pytest.raises(LessonError, match="no such folder"):
        balltrack.open_lesson(str(folder / "nowhere"))


@pytest.mark.skipif(sys.platform == "win32", reason="no folder is locked there")
def test_a_lesson_that_is_being_measured_is_not_opened(folder: Path) -> None:
    with alone(folder / "results"), pytest.raises(MeasureError, match="being measured just now"):
        balltrack.open_lesson(folder)


def test_numbers_of_an_older_lesson_toml_are_told(folder: Path) -> None:
    path = folder / "lesson.toml"
    assert not any("measure again" in notice for notice in balltrack.open_lesson(folder).notices)
    path.write_text(path.read_text(encoding="utf-8") + "\n[air]\ntemperature_c = 35\n", encoding="utf-8")
    assert any("measure again" in notice for notice in balltrack.open_lesson(folder).notices)


def test_the_camera_of_a_clip_that_could_not_be_measured_is_not_known(folder: Path) -> None:
    basis = folder / "results" / "tracks" / "02-toss" / "swing-05.basis.json"
    basis.write_text('{"stood": null, "swings": []}\n', encoding="utf-8")  # as for a clip that cannot be read
    with pytest.raises(RecordError, match=r"swing 2: .*swing-05\.mp4 could not be measured"):
        balltrack.open_lesson(folder).camera(2)
