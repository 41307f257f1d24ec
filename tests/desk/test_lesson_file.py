"""Two tabs at once lose nothing: what was not seen is not overwritten, and what is wrong is not written."""

import threading
from pathlib import Path

import pytest

from balltrack.desk.lesson_file import LessonFile, draft
from balltrack.errors import EditConflict, LessonError
from balltrack.lesson.edit import MARKS, EditedMark, Section, version, with_marks, with_values
from tests.lesson.lessons import GOOD, make_lesson

PLAYER: Section = ("player",)


def set_name(file: LessonFile, seen: str, name: str) -> str:
    return file.change({PLAYER: seen}, lambda text: with_values(text, PLAYER, {"name": name, "bats": "left"}))


def test_a_change_on_top_of_an_unseen_one_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    file = LessonFile(make_lesson(tmp_path))
    seen = version(file.text(), PLAYER)
    set_name(file, seen, "Kim Example")
    before = file.text()
    with pytest.raises(EditConflict, match=r"\[player\] was changed elsewhere"):
        set_name(file, seen, "Lee Example")
    assert file.text() == before


def test_a_person_s_own_editor_counts_as_elsewhere(tmp_path: Path) -> None:
    file = LessonFile(make_lesson(tmp_path))
    seen = version(file.text(), PLAYER)
    (tmp_path / "lesson.toml").write_text(GOOD.replace("Robin", "Kim"))
    with pytest.raises(EditConflict):
        set_name(file, seen, "Lee Example")


def test_changes_of_different_sections_are_both_kept(tmp_path: Path) -> None:
    file = LessonFile(make_lesson(tmp_path))
    text = file.text()
    seen = {section: version(text, section) for section in (PLAYER, MARKS)}
    marks = [EditedMark("plate_tip", None, (7.0, 8.0))]
    file.change({MARKS: seen[MARKS]}, lambda now: with_marks(now, marks, (1920, 1080)))
    after = set_name(file, seen[PLAYER], "Kim Example")
    assert "[7.0, 8.0]" in after
    assert "Kim Example" in after


def test_many_changes_at_the_same_time_are_all_kept(tmp_path: Path) -> None:
    file = LessonFile(make_lesson(tmp_path))
    names = [f"{number:02d}" for number in range(12)]

    def add(name: str) -> None:
        section = ("blocks", name)
        mine = LessonFile(tmp_path)  # as another program would
        mine.change(
            {section: version("", section)}, lambda text: with_values(text, section, {"title": f"Block {name}"})
        )

    threads = [threading.Thread(target=add, args=(name,)) for name in names]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert all(f'title = "Block {name}"' in file.text() for name in names)
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_a_wrong_entry_is_refused_in_the_words_of_measuring(tmp_path: Path) -> None:
    file = LessonFile(make_lesson(tmp_path))
    seen = version(file.text(), ("field",))
    with pytest.raises(LessonError) as caught:
        file.change({("field",): seen}, lambda text: with_values(text, ("field",), {"base_path_ft": 650}))
    assert str(caught.value) == "field.base_path_ft = 650 is not allowed; give feet from base to base, 30 to 120"
    assert file.text() == GOOD


def test_what_is_wrong_elsewhere_does_not_hinder(tmp_path: Path) -> None:
    file = LessonFile(make_lesson(tmp_path, GOOD.replace("base_path_ft = 65", "base_path_ft = 650")))
    assert "Kim Example" in set_name(file, version(file.text(), PLAYER), "Kim Example")


def test_a_lesson_without_lesson_toml_is_drafted_by_what_is_usual(tmp_path: Path) -> None:
    lesson = draft(tmp_path, "", [EditedMark("plate_tip", None, (5.0, 6.0))], (1920, 1080))
    assert [lesson.ball.kind, lesson.base_path_m] == ["softball-12", pytest.approx(65 * 0.3048)]
    assert [mark.pixel_px for mark in lesson.marks] == [(5.0, 6.0)]
    assert not (tmp_path / "lesson.toml").exists()


def test_a_lesson_toml_that_is_a_link_out_of_the_folder_is_neither_read_nor_written(tmp_path: Path) -> None:
    (tmp_path / "secret.toml").write_text(GOOD)
    folder = tmp_path / "lesson"
    folder.mkdir()
    (folder / "lesson.toml").symlink_to(tmp_path / "secret.toml")
    with pytest.raises(LessonError, match="leads out of"):
        LessonFile(folder).text()
