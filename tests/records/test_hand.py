"""Corrections by hand: read as they were set, each wrong row named in one line, and left alone by measuring."""

import math
from pathlib import Path

import pytest

from balltrack.errors import RecordError
from balltrack.records.hand import hand_path, read_hand
from balltrack.records.store import ResultStore, track_path

HEAD = "time_s,u_px,v_px,diameter_px\n"
CLIP = "clips/01-tee/001.mp4"


def written(folder: Path, text: str) -> Path:
    path = folder / "001.hand.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_ball_and_no_ball_are_read_as_set(tmp_path: Path) -> None:
    ball, none = read_hand(written(tmp_path, HEAD + "1.25,100.5,50.25,9.5\n1.266667,,,\n"))
    assert (ball.line, ball.time_s, ball.centre_px, ball.diameter_px) == (2, 1.25, (100.5, 50.25), 9.5)
    assert (none.line, none.time_s, none.centre_px) == (3, 1.266667, None)
    assert math.isnan(none.diameter_px)


def test_what_a_spreadsheet_saves_is_read(tmp_path: Path) -> None:
    path = tmp_path / "001.hand.csv"
    path.write_bytes(b"\xef\xbb\xbf" + HEAD.replace("\n", "\r\n").encode() + b"1.25,100,50,9\r\n\r\n1.5,,,\r\n")
    assert [(row.line, row.time_s) for row in read_hand(path)] == [(2, 1.25), (4, 1.5)]


def test_no_file_is_no_correction(tmp_path: Path) -> None:
    assert read_hand(tmp_path / "001.hand.csv") == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "line 1: the columns must be time_s,u_px,v_px,diameter_px, not nothing"),
        ("time_s;u_px;v_px;diameter_px\n1;2;3;4\n", "line 1: the columns must be time_s,u_px"),
        (HEAD + "1.0,2,3\n", "line 2: 3 cells; give 4"),
        (HEAD + "1.0,2,3,4\nsoon,2,3,4\n", 'line 3: time_s "soon" is no number'),
        (HEAD + ",2,3,4\n", "line 2: time_s is empty; give a number"),
        (HEAD + "1.0,nan,3,4\n", 'line 2: u_px "nan" is no number'),
        (HEAD + "1.0,2,3,inf\n", 'line 2: diameter_px "inf" is no number'),
        (HEAD + "1.0,2,,4\n", "line 2: v_px is empty; give it, or leave u_px, v_px and diameter_px all empty"),
        (HEAD + "1.0,2,3,\n", "line 2: diameter_px is empty"),
        (HEAD + "1.0,2,3,0\n", "line 2: diameter_px = 0 is no width"),
        (HEAD + "1.0,2,3,4\n1.5,,,\n1.0,,,\n", "line 4: line 2 sets the same frame; delete one of them"),
    ],
)
def test_a_wrong_row_is_one_line_with_its_number_and_what_to_do(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(RecordError) as caught:
        read_hand(written(tmp_path, text))
    assert said in str(caught.value)
    assert "001.hand.csv" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_measuring_again_leaves_corrections_as_they_are(tmp_path: Path) -> None:
    path = tmp_path / hand_path(CLIP)
    assert path == (tmp_path / track_path(CLIP)).with_name("001.hand.csv")
    path.parent.mkdir(parents=True)
    path.write_text(HEAD + "1.25,,,\n")
    store = ResultStore(tmp_path, [CLIP])
    store.write_clip(CLIP, [], [])
    store.write_table("us")
    assert (tmp_path / track_path(CLIP)).is_file()
    assert path.read_text() == HEAD + "1.25,,,\n"
