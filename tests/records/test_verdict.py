"""A person's word on whole swings: kept as said, each wrong field named in one line."""

from pathlib import Path

import pytest

from balltrack.errors import RecordError
from balltrack.records.store import track_path
from balltrack.records.verdict import Verdict, read_verdicts, verdict_path, write_verdicts

CLIP = "clips/01-tee/001.mp4"
SAID = (
    Verdict(swing="01-tee/001#1", near_s=1.25, contact_s=1.2333),
    Verdict(swing="01-tee/001#2", near_s=4.5, miss=True),
    Verdict(swing="01-tee/001#3", near_s=7.0, excluded="a bunt, asked for"),
)


def test_what_was_said_is_read_as_written(tmp_path: Path) -> None:
    path = tmp_path / verdict_path(CLIP)
    assert path == (tmp_path / track_path(CLIP)).with_name("001.hand.json")
    write_verdicts(path, SAID[::-1])
    assert read_verdicts(path) == SAID


def test_where_nothing_is_left_to_say_no_file_is_left(tmp_path: Path) -> None:
    path = tmp_path / "001.hand.json"
    write_verdicts(path, SAID)
    write_verdicts(path, [Verdict(swing="01-tee/001#1", near_s=1.25)])
    assert not path.exists()
    assert read_verdicts(path) == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "JSON"),
        ('{"swings": [{"swing": "a#1"}]}', "swings 1 near_s: field required (clip time at which"),
        ('{"swings": [{"swing": "a#1", "near_s": "soon"}]}', "swings 1 near_s: input should be a valid number"),
        ('{"swings": [{"swing": "a#1", "near_s": 1, "mis": true}]}', "swings 1 mis: extra inputs are not permitted"),
        ('{"swings": [{"swing": "a#1", "near_s": 1, "miss": true, "contact_s": 1}]}', "a miss has no contact"),
        ('{"swings": [{"swing": "a#1", "near_s": 1e999}]}', "swings 1 near_s: input should be a finite number"),
    ],
)
def test_a_wrong_field_is_one_line_with_its_swing_and_what_to_do(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "001.hand.json"
    path.write_text(text)
    with pytest.raises(RecordError) as caught:
        read_verdicts(path)
    assert said in str(caught.value)
    assert "001.hand.json" in str(caught.value)
    assert "repair it" in str(caught.value)
    assert "\n" not in str(caught.value)
