"""lesson.toml changed entry by entry: what a person wrote stays as it was written."""

import tomllib

import pytest

from balltrack.errors import LessonError
from balltrack.lesson.edit import MARKS, EditedMark, version, with_drills, with_marks, with_values
from tests.lesson.lessons import GOOD

WRITTEN = """\
# Robin's first lesson
[blocks."02-toss"]
title = 'soft toss'  # from the side

[player]   # who bats
name = "Robin Example"
bats = "right" # so far

[ball]
circumference_in = 11.9
weight_oz = 6.4  # kitchen scales

[field]
base_path_ft = 65.0

[camera]
# the phone's own word
horizontal_fov_deg = 62.0

[[camera.marks]]
point = "plate_tip"
pixel = [1.5, 2]   # sure

# the chalk is worn here
[[camera.marks]]
point = "plate_left"
pixel = [3, 4.25]

[[camera.marks]]
at_m = [2.0, 4.0, 0.0]  # a cone
pixel = [30, 44]
"""
TIP = EditedMark("plate_tip", None, (1.5, 2.0))
LEFT = EditedMark("plate_left", None, (3.0, 4.25))
CONE = EditedMark(None, (2.0, 4.0, 0.0), (30.0, 44.0))
SIZE = (1920, 1080)


def comments(text: str) -> set[str]:
    return {line.partition("#")[2].strip() for line in text.splitlines() if "#" in line}


def changed_lines(before: str, after: str) -> tuple[list[str], list[str]]:
    """Lines that are gone, and new ones."""
    old, new = before.splitlines(), after.splitlines()
    return [line for line in old if line not in new], [line for line in new if line not in old]


def test_one_entry_changes_one_line_and_keeps_its_comment() -> None:
    after = with_values(WRITTEN, ("player",), {"name": "Robin Example", "bats": "left"})
    assert changed_lines(WRITTEN, after) == (['bats = "right" # so far'], ['bats = "left" # so far'])


def test_an_entry_that_already_says_so_is_not_rewritten() -> None:
    assert with_values(WRITTEN, ("ball",), {"circumference_in": 11.9, "weight_oz": 6.4}) == WRITTEN


def test_none_takes_an_entry_out() -> None:
    after = with_values(WRITTEN, ("ball",), {"kind": "baseball", "circumference_in": None, "weight_oz": None})
    assert tomllib.loads(after)["ball"] == {"kind": "baseball"}


def test_a_table_that_is_missing_is_made_and_the_rest_kept() -> None:
    after = with_values(WRITTEN, ("blocks", "01-tee"), {"delivery": "tee"})
    assert tomllib.loads(after)["blocks"] == {"02-toss": {"title": "soft toss"}, "01-tee": {"delivery": "tee"}}
    assert not changed_lines(WRITTEN, after)[0]


def test_a_file_is_made_from_nothing() -> None:
    text = with_marks(with_values("", ("player",), {"name": "Robin"}), [TIP], SIZE)
    assert tomllib.loads(text) == {
        "player": {"name": "Robin"},
        "camera": {"image_size_px": [1920, 1080], "marks": [{"point": "plate_tip", "pixel": [1.5, 2.0]}]},
    }


def test_marks_that_stay_keep_place_spelling_and_comments() -> None:
    after = with_marks(WRITTEN, [TIP, LEFT, CONE], SIZE)
    assert changed_lines(WRITTEN, after) == ([], ["image_size_px = [1920, 1080]"])


def test_a_moved_mark_changes_its_pixel_only() -> None:
    after = with_marks(WRITTEN, [EditedMark("plate_tip", None, (1.6, 2.0)), LEFT, CONE], SIZE)
    assert changed_lines(WRITTEN, after)[0] == ["pixel = [1.5, 2]   # sure"]
    assert "pixel = [1.6, 2.0]   # sure" in after


def test_a_measured_mark_says_how_well_and_a_moved_one_no_longer_does() -> None:
    measured = with_marks(WRITTEN, [EditedMark("plate_tip", None, (1.6, 2.0), 0.24), LEFT, CONE], SIZE)
    assert tomllib.loads(measured)["camera"]["marks"][0] == {"point": "plate_tip", "pixel": [1.6, 2.0], "sd_px": 0.24}
    again = with_marks(measured, [EditedMark("plate_tip", None, (1.6, 2.0), 0.2), LEFT, CONE], SIZE)
    assert tomllib.loads(again)["camera"]["marks"][0]["sd_px"] == 0.2
    by_hand = with_marks(measured, [EditedMark("plate_tip", None, (1.7, 2.0)), LEFT, CONE], SIZE)
    assert tomllib.loads(by_hand)["camera"]["marks"][0] == {"point": "plate_tip", "pixel": [1.7, 2.0]}


@pytest.mark.parametrize("kept", [[LEFT, CONE], [TIP, CONE], [CONE]])
def test_a_mark_that_goes_leaves_the_others_comments(kept: list[EditedMark]) -> None:
    after = with_marks(WRITTEN, kept, SIZE)
    assert [mark["pixel"] for mark in tomllib.loads(after)["camera"]["marks"]] == [list(each.pixel_px) for each in kept]
    lost = comments(WRITTEN) - comments(after)
    assert lost <= {"sure"}  # the comment on a line that is gone, and no other
    assert "the chalk is worn here" in after


def test_no_marks_at_all_leave_no_empty_table() -> None:
    assert "marks" not in tomllib.loads(with_marks(WRITTEN, [], SIZE))["camera"]


def test_marks_in_one_line_are_changed_in_that_line() -> None:
    text = '[camera]\nmarks = [{point = "plate_tip", pixel = [1, 2]}, {point = "plate_left", pixel = [3, 4]}] # mine\n'
    after = with_marks(text, [EditedMark("plate_left", None, (3, 4)), EditedMark("plate_right", None, (5, 6))], SIZE)
    assert [mark["point"] for mark in tomllib.loads(after)["camera"]["marks"]] == ["plate_left", "plate_right"]
    assert "# mine" in after


def test_tables_spread_over_the_file_are_changed_too() -> None:
    text = "[blocks.a]\n[player]\nname = 'R'\n[blocks.b] # second\ntitle = 'x'\n"
    assert tomllib.loads(with_values(text, ("blocks", "b"), {"title": "y"}))["blocks"]["b"] == {"title": "y"}
    assert tomllib.loads(with_values(text, ("blocks", "c"), {"title": "z"}))["blocks"]["c"] == {"title": "z"}


def test_a_text_that_is_not_toml_is_refused_with_its_line() -> None:
    with pytest.raises(LessonError, match=r"not valid TOML: .*line 2"):
        with_values("[player]\nname = Robin\n", ("player",), {"name": "Robin"})


def test_a_version_changes_with_its_own_section_only() -> None:
    sections = [("player",), ("ball",), ("blocks", "01-tee"), MARKS]
    before = [version(GOOD, section) for section in sections]
    renamed = with_values(GOOD, ("player",), {"name": "Kim Example"})
    assert [version(renamed, section) != old for section, old in zip(sections, before, strict=True)] == [
        True,
        False,
        False,
        False,
    ]
    assert version(GOOD + "\n# a comment\n", ("player",)) == before[0]


DRILLS = """\
[plan]
words = "little and often"  # her own pace

# before anything else
[[plan.drills]]
name = "Tee, high ball"  # she likes it
repetitions = 10

[[plan.drills]]
name = "Soft toss"
"""


def test_drills_change_in_their_place_and_keep_comments() -> None:
    wished = [{"name": "Tee, high ball", "repetitions": "3 x 10"}, {"name": "Walk-up", "words": "slow\nfast"}]
    after = with_drills(DRILLS, wished)
    assert tomllib.loads(after)["plan"] == {"words": "little and often", "drills": wished}
    assert comments(after) == comments(DRILLS)


@pytest.mark.parametrize("text", ["", "[player]\nname = 'R'  # hers\n", DRILLS, "[plan]\ndrills = [{name = 'a'}]\n"])
@pytest.mark.parametrize("count", [0, 1, 3])
def test_drills_are_set_whatever_the_file_held(text: str, count: int) -> None:
    wished = [{"name": f"drill {k}", "caution": 'say "stop"'} for k in range(count)]
    assert tomllib.loads(with_drills(text, wished)).get("plan", {}).get("drills", []) == wished


def test_words_of_several_lines_can_be_read_in_the_file() -> None:
    after = with_values("", ("plan",), {"words": 'First "this".\nThen that \\ rest.'})
    assert "\nThen that" in after
    assert tomllib.loads(after)["plan"]["words"] == 'First "this".\nThen that \\ rest.'
