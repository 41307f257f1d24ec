"""Looking through the swings: what is shown is what was measured, what is put right is kept, nothing else is served."""

import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import httpx
import numpy as np
import pytest

from balltrack.records.store import read_swings
from balltrack.records.swing import Swing
from balltrack.video.frames import read_frames
from tests.desk.served import asking

HIT, OTHER = "01-tee/swing-03#1", "02-toss/swing-05#1"
HIT_CLIP = "clips/01-tee/swing-03.mp4"


@pytest.fixture
def folder(measured_sample: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(measured_sample, tmp_path / "lesson"))


@pytest.fixture
def client(folder: Path) -> Iterator[httpx.Client]:
    with asking(folder) as client:
        client.headers["accept"] = "application/json"
        yield client


def opened(client: httpx.Client, swing: str) -> dict[str, Any]:
    answer = client.get("swings/one", params={"swing": swing})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def recorded(folder: Path, swing: str) -> Swing:
    return next(each for each in read_swings(folder / "results" / "swings.jsonl") if each.swing == swing)


def as_said(seen: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """A correction that says nothing, but for the changes."""
    return {"swing": seen["swing"], "version": seen["version"], "balls": []} | changes


def test_the_page_lists_every_swing_with_its_numbers_and_how_sure_they_are(client: httpx.Client, folder: Path) -> None:
    page = client.get("swings").text
    for name in (HIT, OTHER):
        speed = recorded(folder, name).exit_speed_mps
        assert speed is not None
        assert f"{speed / 0.44704:.1f} ±" in page  # a mile an hour is 0.44704 m/s, exactly
    assert page.count("data-swing=") == 2 * 2  # row and button, of two swings
    assert "<script>" not in page
    assert "style=" not in page


def test_a_lesson_that_was_not_measured_says_what_to_do(tmp_path: Path, measured_sample: Path) -> None:
    lesson = tmp_path / "lesson"
    shutil.copytree(measured_sample, lesson, ignore=shutil.ignore_patterns("results"))
    with asking(lesson) as client:
        assert "Measure the lesson first" in client.get("swings").text
    (lesson / "lesson.toml").unlink()
    with asking(lesson) as client:
        assert "lesson.toml" in client.get("swings").text


def test_a_swing_opens_with_its_frames_and_a_flight_that_passes_the_balls_found(client: httpx.Client) -> None:
    seen = opened(client, HIT)
    assert seen["size"] == [1920, 1080]
    assert np.diff(seen["times"]) == pytest.approx(1 / 60, abs=1e-4)  # sample_clips/README.md: 60 frames a second
    path = {each["k"]: each for each in seen["path"]}
    used = [row for row in seen["found"] if row["used"]]
    assert len(used) > 20
    # The fit's own misfit is a fraction of a pixel; a frame more or less would be 5 px and more.
    for row in used:
        assert abs(row["u"] - path[row["k"]]["u"]) < 2
        assert abs(row["v"] - path[row["k"]]["v"]) < 2


@pytest.mark.parametrize(("size", "shape"), [("full", (1080, 1920, 3)), ("half", (540, 960, 3))])
def test_a_frame_is_the_clip_s_own_picture(
    client: httpx.Client, folder: Path, size: str, shape: tuple[int, ...]
) -> None:
    seen = opened(client, HIT)
    number = 20
    answer = client.get("swings/frame", params={"swing": HIT, "k": number, "size": size})
    assert answer.headers["content-type"] == "image/jpeg"
    shown = cv2.imdecode(np.frombuffer(answer.content, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert shown is not None
    assert shown.shape == shape[:2]
    time_s = seen["times"][number]
    (frame,) = read_frames(folder / HIT_CLIP, time_s - 1e-4, time_s + 1e-4)
    luma = cv2.resize(frame.luma, shape[1::-1], interpolation=cv2.INTER_AREA).astype(float)
    stretched = (luma - 16) * 255 / 219  # from video's range to the full one: Rec. ITU-R BT.601
    # Of 255 levels: JPEG at this quality, and gray from colours, cost one or two.
    assert np.mean(np.abs(np.clip(stretched, 0, 255) - shown)) < 2.5


@pytest.mark.parametrize(
    "wrong",
    [
        {"swing": HIT, "k": "100000"},
        {"swing": HIT, "k": "-1"},
        {"swing": HIT, "k": "../../lesson.toml"},
        {"swing": "../../../etc/passwd", "k": "1"},
        {"swing": "01-tee/../01-tee/swing-03#1", "k": "1"},
        {"swing": "01-tee/swing-03#7", "k": "1"},
        {"k": "1"},
    ],
)
def test_nothing_but_frames_of_known_swings_is_served(client: httpx.Client, wrong: dict[str, str]) -> None:
    answer = client.get("swings/frame", params=wrong)
    assert answer.status_code == 422
    assert "\n" not in answer.json()["error"]


def test_a_clip_that_is_a_link_out_of_the_lesson_is_not_served(
    client: httpx.Client, folder: Path, tmp_path: Path
) -> None:
    outside = tmp_path / "outside.mp4"
    (folder / HIT_CLIP).rename(outside)
    (folder / HIT_CLIP).symlink_to(outside)
    answer = client.get("swings/frame", params={"swing": HIT, "k": "1"})
    assert answer.status_code == 422
    assert "link out of the lesson folder" in answer.json()["error"]


def test_a_correction_changes_the_record_the_table_and_the_review_and_comes_back(
    client: httpx.Client, folder: Path
) -> None:
    before, seen = recorded(folder, HIT), opened(client, HIT)
    row = [row for row in seen["found"] if row["used"]][4]
    ball = {"time": seen["times"][row["k"]], "u": row["u"] + 30, "v": row["v"], "d": row["d"]}
    said = client.put("swings/correct", json=as_said(seen, balls=[ball], excluded="a  test ")).json()
    assert said["said"]["byHand"] == ["1 ball position set", "excluded"]
    assert said["hand"][0]["k"] == row["k"]
    changed = recorded(folder, HIT)
    assert (changed.excluded, changed.frames_used) == ("a test", (before.frames_used or 0) - 1)
    table = client.get("swings/table").text
    assert "By hand: 1 ball position set, excluded" in table
    assert "1 more left out" in table
    review = folder / "results" / "review" / "index.html"
    until_s = time.monotonic() + 20  # it is drawn once the answer is given
    while "Left out by hand: a test" not in review.read_text(encoding="utf-8"):
        assert time.monotonic() < until_s
        time.sleep(0.05)

    said = client.put("swings/correct", json=as_said(said)).json()
    assert said["said"]["byHand"] == []
    assert recorded(folder, HIT) == before


def test_two_tabs_lose_nothing(client: httpx.Client, folder: Path) -> None:
    one, other = opened(client, HIT), opened(client, HIT)
    assert client.put("swings/correct", json=as_said(one, miss=True)).status_code == 200
    refused = client.put("swings/correct", json=as_said(other, excluded="late"))
    assert refused.status_code == 409
    assert "corrected elsewhere" in refused.json()["error"]
    assert recorded(folder, HIT).by_hand == ("miss",)
    # Another clip's swing is another matter.
    assert client.put("swings/correct", json=as_said(opened(client, OTHER), excluded="late")).status_code == 200


@pytest.mark.parametrize(
    "wrong",
    [
        {"balls": [{"time": 0.5, "u": 5000, "v": 10, "d": 9}]},
        {"balls": [{"time": 0.5, "u": 50, "v": 10, "d": -9}]},
        {"balls": [{"time": 0.5, "u": 50, "v": 10, "d": 9}] * 2},
        {"excluded": "x" * 300},
        {"path": "/etc/passwd"},
        {"miss": "perhaps"},
    ],
)
def test_a_correction_that_cannot_be_is_refused_in_one_line_and_nothing_is_kept(
    client: httpx.Client, folder: Path, wrong: dict[str, Any]
) -> None:
    before = recorded(folder, HIT)
    answer = client.put("swings/correct", json=as_said(opened(client, HIT), **wrong))
    assert answer.status_code == 422
    assert "\n" not in answer.json()["error"]
    assert recorded(folder, HIT) == before
    assert not list((folder / "results").rglob("*.hand.*"))


def test_the_chart_has_a_dot_for_each_landing_and_no_style_that_the_policy_refuses(client: httpx.Client) -> None:
    client.put("swings/correct", json=as_said(opened(client, OTHER), miss=True))
    svg = client.get("swings/chart").json()["svg"]
    assert svg.count('id="ball-1"') == 1
    assert "ball-2" not in svg  # a miss has no landing
    assert opened(client, OTHER)["path"] == []
    assert " style=" not in svg
    assert "<style" not in svg
    assert 'stroke-linejoin="round"' in svg
    assert 'font-weight="' in svg  # the title's font is given in its parts
