"""Some 380 damaged and lying files, made anew in each run, and what reading each of them comes to."""

import multiprocessing
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pytest
from damaged.breakage import Named
from make_damaged import corpus

from balltrack.video.sound import read_sound
from tests.hostile.readers import Read, start, try_to_read
from tests.hostile.sound_records import write_records

SEED = 1
LEAST_FILES = 300
WORKERS = 2
# Python and its libraries take 0.25 GB; a picture of 36 million pixels, the most that is read, takes 0.05 GB as stored
# and the decoder keeps several. What the lies ask for is 13 GB and more.
MOST_PEAK_MB = 700


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[Named, ...]]:
    folder = tmp_path_factory.mktemp("results")
    return folder, write_records(folder)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, records: tuple[Path, tuple[Named, ...]]) -> tuple[Path, list[Path]]:
    """The folder of all files, and the damaged ones."""
    folder = tmp_path_factory.mktemp("corpus")
    return folder, corpus(folder, SEED, records[1])


@pytest.fixture(scope="module")
def read(made: tuple[Path, list[Path]]) -> list[Read]:
    """How reading each damaged file ended."""
    return list(_read_all(made[1]))


def _read_all(paths: list[Path]) -> Iterator[Read]:
    """Side by side. A process that dies takes the files after it in its share along, and each of them is told."""
    spawn = multiprocessing.get_context("spawn")
    pools = [ProcessPoolExecutor(1, spawn, initializer=start) for _ in range(WORKERS)]
    shares = [paths[number::WORKERS] for number in range(WORKERS)]
    futures = [[pool.submit(try_to_read, path) for path in share] for pool, share in zip(pools, shares, strict=True)]
    for pool, share, started in zip(pools, shares, futures, strict=True):
        for path, future in zip(share, started, strict=True):
            try:
                yield future.result()
            except BrokenProcessPool:
                yield Read(path.name, "", "the process died on this file, or on the one before it")
        pool.shutdown()


def test_every_damaged_file_is_read_or_refused_in_one_clear_line(read: list[Read]) -> None:
    assert len(read) >= LEAST_FILES
    assert [each for each in read if each.fault] == []


def test_no_file_takes_more_memory_than_a_sound_one_may(read: list[Read]) -> None:
    assert max(each.peak_mb for each in read) < MOST_PEAK_MB


def test_the_damage_is_real_and_not_all_is_lost_by_it(read: list[Read]) -> None:
    # A third or so of random damage hits what a reader does not need or can do without: both ways must occur often.
    refused = sum(bool(each.words) for each in read)
    assert len(read) / 4 < refused < len(read) - 50


def test_the_files_from_which_they_are_made_are_all_read(
    made: tuple[Path, list[Path]], records: tuple[Path, tuple[Named, ...]]
) -> None:
    sound = [path for folder in (made[0] / "sound", records[0]) for path in folder.rglob("*") if path.is_file()]
    assert len(sound) >= 18
    assert [each for path in sorted(sound) if (each := try_to_read(path)).words or each.fault] == []


@pytest.mark.parametrize(
    ("file", "words"),
    [
        ("jpegs-of-65500-px.avi", "none of its 12 pictures decodes"),
        ("pngs-of-100000-px.mkv", "none of its 12 pictures decodes"),
        ("picture.mp4", "not a video"),
        ("bomb-picture.mp4", "not a video"),
        ("playlist.mp4", "not a video"),  # else whoever wrote it would have the program ask for an address of his
        ("list.mp4", "not a video"),
        ("session.mp4", "not a video"),
        ("archive.mp4", "not a video"),
        ("empty.mp4", "is empty (0 bytes)"),
        ("nested.toml", "nested more than 30 deep"),
        ("nested-tables.toml", "nested more than 30 deep"),
        ("long-number.toml", "a whole number is too long"),
        ("large-number.toml", "a whole number has more than 64 bits"),
        ("many-entries.toml", "and more of that kind"),
        ("too-large.toml", "1 MB are most"),
        ("wide.toml", "is not a text file in UTF-8"),
        ("nested.swings.jsonl", "not a line of JSON"),
        ("large-number.swings.jsonl", "contact_s = 9999"),
        ("nested.basis.json", "measure the lesson again"),
        ("nested.camera.json", "measure the lesson again"),
        ("nested.hand.json", "repair it or move it away"),
    ],
)
def test_a_lie_is_called_what_it_is(read: list[Read], file: str, words: str) -> None:
    found = [each.words for each in read if each.name[4:] == file]
    assert len(found) == 1
    assert words in found[0]


def test_silence_between_pieces_of_sound_is_filled_for_ten_minutes_at_most(made: tuple[Path, list[Path]]) -> None:
    path = next(path for path in made[1] if path.name.endswith("holes-in-sound.mkv"))
    sound = read_sound(path)
    assert sound is not None
    assert len(sound.samples) / sound.rate_hz < 601  # the file claims an hour


def test_a_file_that_says_its_picture_is_too_large_is_read_where_the_picture_itself_is_not(read: list[Read]) -> None:
    # The box around the film says 65535 x 65535, the film itself 96 x 64: only the latter is ever taken memory for.
    found = [each for each in read if each.name.endswith("-size-65535.mp4")]
    assert [each.words for each in found] == [""]
