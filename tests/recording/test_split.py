"""A film of a whole lesson, with all that happens between swings, cut by the public command and by the function."""

import re
import shutil
import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import tomlkit
from bench.noises import crack, speech
from click.testing import CliRunner, Result

from balltrack.cli import main
from balltrack.errors import LessonError
from balltrack.lesson.folder import find_clips
from balltrack.onset import find_onsets
from balltrack.recording.begun import marked_zone
from balltrack.recording.contacts import Contact, find_contacts
from balltrack.recording.cuts import LEAD_S, TAIL_S, KnownCut, identity, known_cuts, windows
from balltrack.recording.look import Look, grid_of, joined, look
from balltrack.recording.split import split_recording
from balltrack.recording.zone import box_weights
from balltrack.video.clip import probe
from balltrack.video.frames import read_frames
from balltrack.video.sound import read_sound
from tests.recording.film import SAMPLE, SHRUNK, Film, whole_lesson

# A crack reaches the phone 15 ms after contact (5 m), and a miss has none: it is dated by the bat's fastest moment, or
# by the sound of the catcher's glove about 0.1 s behind the plate.
SAME_SWING_S = 0.25


@dataclass(frozen=True)
class Done:
    """The film, and what the command made of it."""

    film: Film
    path: Path
    folder: Path
    result: Result

    @property
    def cuts(self) -> list[KnownCut]:
        return known_cuts(self.folder, identity(self.path))


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(main, ["split", *map(str, args)])


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Done:
    film, path = whole_lesson(tmp_path_factory.mktemp("film") / "whole lesson.mp4")
    folder = tmp_path_factory.mktemp("split") / "lesson"
    return Done(film, path, folder, run(path, folder, "--workers", "2"))


@pytest.fixture(scope="module")
def seen(done: Done) -> Look:
    return look(probe(done.path), 0.0, done.film.now_s)


def are_the_films_swings(found_s: list[float], film: Film) -> bool:
    pairs = zip(found_s, film.contacts_s, strict=True)
    return len(found_s) == 9 and all(abs(ours - theirs) < SAME_SWING_S for ours, theirs in pairs)


def test_every_swing_is_cut_once_and_no_clap_word_dropped_bat_walk_or_neighbours_crack_is(done: Done) -> None:
    assert done.result.exit_code == 0
    assert are_the_films_swings([cut.contact_s for cut in done.cuts], done.film)


def test_a_pause_divides_blocks_which_measuring_finds_in_order(done: Done) -> None:
    clips, notices = find_clips(done.folder, {})
    numbers = [*(f"01/00{number}" for number in (1, 2, 3, 4)), *(f"02/00{number}" for number in (1, 2, 3, 4, 5))]
    assert [clip.name for clip in clips] == [f"clips/{number}.mp4" for number in numbers]
    assert not notices


def test_a_clip_holds_the_recordings_own_pictures_and_its_crack_at_its_place(done: Done) -> None:
    cut = done.cuts[5]
    ours = list(read_frames(cut.path))
    theirs = list(read_frames(done.path, cut.contact_s - LEAD_S, cut.contact_s + TAIL_S))
    assert np.array_equal(ours[50].luma, theirs[50].luma)
    sound = read_sound(cut.path)
    assert sound is not None
    # The clip's clock begins with its first picture; 1 ms for the dating of two onsets.
    crack_s = cut.contact_s - theirs[0].time_s
    assert min(abs(onset.time_s - crack_s) for onset in find_onsets(sound)) < 0.001


def test_swings_close_together_share_the_time_between_them() -> None:
    contacts = [Contact(time_s, True, 1.0) for time_s in (1.0, 3.0, 4.0, 60.0)]
    cut_s = windows(contacts, 0.0, 61.0)
    for (start_s, stop_s), contact in zip(cut_s, contacts, strict=True):
        assert [each for each in contacts if start_s <= each.time_s <= stop_s] == [contact]
    assert cut_s[0][0] == 0.0
    assert cut_s[3] == (60.0 - LEAD_S, 61.0)


def test_a_second_run_cuts_nothing_again_wherever_the_clips_lie_now(done: Done, tmp_path: Path) -> None:
    lesson = tmp_path / "lesson"
    shutil.copytree(done.folder, lesson)
    (lesson / "clips" / "01").rename(lesson / "clips" / "01-tee")
    (lesson / "clips" / "02" / "003.mp4").unlink()
    before = {path: path.read_bytes() for path in lesson.glob("clips/*/*")}
    copied = tmp_path / "the same under another name.mp4"
    shutil.copy(done.path, copied)
    result = run(copied, lesson, "--workers", "1")
    assert result.exit_code == 0
    assert "8 clips of them had been cut before and stayed" in result.output
    after = {path: path.read_bytes() for path in lesson.glob("clips/*/*")}
    assert before.items() <= after.items()
    # The one that was deleted comes again, under a number that was never used.
    assert {path.relative_to(lesson).as_posix() for path in after.keys() - before.keys()} == {"clips/02/006.mp4"}


def test_without_sound_swings_are_told_by_motion_and_a_time_table_names_the_blocks(tmp_path: Path) -> None:
    film = Film()
    for name in ("01-tee/swing-01.mp4", "01-tee/swing-02.mp4", "02-toss/swing-04.mp4"):
        film.stand(1.5)
        film.swing(name)
    film.stand(1.0)
    entries = ('name = "01-tee"\nstart = "0:04"', 'name = "02-toss"\nstart = "0:08"')
    (tmp_path / "lesson.toml").write_text("".join(f"[[recording.blocks]]\n{entry}\n" for entry in entries))
    result = run(film.write(tmp_path / "silent.mp4", "-an"), tmp_path, "--workers", "1")
    assert result.exit_code == 0
    assert "by motion alone, for the recording has no sound" in result.output
    assert "1 swing before the first block's start in the time table left out" in result.output
    made = sorted(path.relative_to(tmp_path).as_posix() for path in tmp_path.glob("clips/*/*"))
    assert made == ["clips/01-tee/001.mp4", "clips/02-toss/001.mp4"]


def test_the_fields_marks_say_where_the_plate_is(done: Done, seen: Look, tmp_path: Path) -> None:
    lesson = tomlkit.parse((SAMPLE / "lesson.toml").read_text())
    for mark in lesson["camera"]["marks"]:
        mark["pixel"] = [(pixel + 0.5) / SHRUNK - 0.5 for pixel in mark["pixel"]]
    (tmp_path / "lesson.toml").write_text(tomlkit.dumps(lesson))
    info = probe(done.path)
    box, why = marked_zone(tmp_path, info)
    assert box is not None, why
    contacts = find_contacts(seen, box_weights(box, info.size_px, grid_of(info.size_px)))
    assert are_the_films_swings([contact.time_s for contact in contacts], done.film)


def test_looking_in_stretches_sees_and_hears_what_looking_at_once_does(done: Done, seen: Look) -> None:
    info = probe(done.path)
    parts = joined([look(info, 0.0, 5.3), look(info, 5.3, 12.0)])
    early = seen.time_s < 11.9
    assert np.array_equal(parts.time_s[parts.time_s < 11.9], seen.time_s[early])
    assert np.array_equal(parts.moved[parts.time_s < 11.9], seen.moved[early])
    heard = [onset.time_s for onset in seen.onsets if onset.time_s < 12.0]
    assert [onset.time_s for onset in parts.onsets] == pytest.approx(heard, abs=0.001)


def test_cracks_and_words_without_a_swing_give_no_clip(tmp_path: Path) -> None:
    film = Film()
    for _ in range(4):
        film.stand(1.5)
        film.hear(crack(0.3), 0.5)
    film.hear(speech(1.5, 0.05), 1.5)
    result = run(film.write(tmp_path / "idle.mp4"), tmp_path / "lesson", "--workers", "1")
    assert result.exit_code == 4
    assert "No swing was found in the 0:06 of idle.mp4" in result.output
    assert not (tmp_path / "lesson" / "clips").exists()


def test_the_command_says_how_many_swings_where_they_are_and_what_to_do_next(done: Done) -> None:
    assert re.search(r"^9 swings in the 1:\d\d of whole lesson.mp4: \d with a crack", done.result.output)
    assert re.search(r"^  clips/01: 4 swings, 0:02 to 0:\d\d$", done.result.output, re.MULTILINE)
    assert "delete what is no swing" in done.result.output
    assert "balltrack desk" in done.result.output


def test_a_recording_among_the_clips_is_refused(tmp_path: Path) -> None:
    result = run(tmp_path / "clips" / "01" / "long.mp4", tmp_path)
    assert result.exit_code == 1
    assert "lies in clips/" in result.output


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ('name = "01"\nstart = "90"', 'line 3: recording.blocks[1].start = "90" is not allowed; give minutes and'),
        ('name = "../01"\nstart = "0:00"', "line 2: recording.blocks[1].name"),
        ('name = "02"\nstart = "1:00"\n[[recording.blocks]]\nname = "03"\nstart = "0:59"', "does not come after"),
    ],
)
def test_a_wrong_time_table_is_told_by_its_line(tmp_path: Path, table: str, words: str) -> None:
    text = f"[[recording.blocks]]\n{table}\n"
    tomllib.loads(text)
    (tmp_path / "lesson.toml").write_text(text)
    with pytest.raises(LessonError, match=re.escape(words)):
        split_recording(tmp_path / "any.mp4", tmp_path)
