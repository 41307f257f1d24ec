"""Clips side by side: one bad clip never ends a lesson, not even by killing its process."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from balltrack.batch import ClipDone, keep_picture, run_clips
from balltrack.errors import CameraMoved, VideoError
from balltrack.lesson import Clip
from balltrack.measure import ClipResult

ROOT = Path(__file__).parent.parent


def measure_by_name(clip: Clip) -> ClipResult:
    """Stands in for the real work; the clip's name says what befalls it. At module level, so that workers find it."""
    if "unreadable" in clip.name:
        raise VideoError(f"{clip.path}: no picture in it; film it again")
    if "moved" in clip.name:
        raise CameraMoved(f"{clip.path}: the picture had moved by 200 px; mark it anew", b"a picture")
    if "deadly" in clip.name:
        os._exit(9)  # as a decoder's crash would
    if "bug" in clip.name:
        raise ZeroDivisionError("a bug")
    return ClipResult(clip, (), (), "threads " + os.environ["OMP_NUM_THREADS"])


def clips(*names: str) -> list[Clip]:
    return [Clip(Path("/lesson/clips/01-tee", name), f"clips/01-tee/{name}", "01-tee", "tee") for name in names]


def by_name(done: list[ClipDone]) -> dict[str, ClipDone]:
    return {each.clip.path.name: each for each in done}


def test_a_clip_that_cannot_be_read_is_one_line_and_the_others_go_on() -> None:
    done = by_name(list(run_clips(clips("1.mp4", "unreadable.mp4", "2.mp4"), measure_by_name, 2)))
    assert done["unreadable.mp4"].problem == "no picture in it; film it again"
    assert done["unreadable.mp4"].result is None
    for name in ("1.mp4", "2.mp4"):
        result = done[name].result
        assert result is not None
        assert result.note == "threads 1"
    assert "OMP_NUM_THREADS" not in os.environ or os.environ["OMP_NUM_THREADS"] == "1"


def test_a_clip_whose_phone_was_moved_comes_with_a_picture_and_the_word_where_it_lies(tmp_path: Path) -> None:
    (done,) = run_clips(clips("moved.mp4"), measure_by_name, 1)
    kept = keep_picture(done, tmp_path)
    assert kept.problem == (
        "the picture had moved by 200 px; mark it anew; results/review/moved/01-tee/moved.jpg shows it"
    )
    assert (tmp_path / "review" / "moved" / "01-tee" / "moved.jpg").read_bytes() == b"a picture"


def test_a_clip_that_matches_no_more_keeps_both_pictures_until_it_does_again(tmp_path: Path) -> None:
    (clip,) = clips("unlike.mp4")
    unmatched = ClipResult(clip, (), (), "its picture could not be matched", apart_jpeg=b"both pictures")
    kept = keep_picture(ClipDone(clip, unmatched, ""), tmp_path)
    place = tmp_path / "review" / "unmatched" / "01-tee" / "unlike.jpg"
    assert place.read_bytes() == b"both pictures"
    assert kept.problem == ""
    keep_picture(ClipDone(clip, ClipResult(clip, (), (), ""), ""), tmp_path)
    assert not place.exists()


def test_a_clip_that_kills_its_process_is_one_line_and_the_others_go_on() -> None:
    done = by_name(list(run_clips(clips("deadly.mp4", "1.mp4", "2.mp4"), measure_by_name, 2)))
    assert "died on this clip" in done["deadly.mp4"].problem
    assert done["1.mp4"].result is not None
    assert done["2.mp4"].result is not None
    assert len(done) == 3


def test_a_fault_of_the_program_is_called_one_and_costs_only_its_own_clip() -> None:
    done = {each.clip.path.name: each for each in run_clips(clips("bug.mp4", "good.mp4"), measure_by_name, 1)}
    assert "fault of this program" in done["bug.mp4"].problem
    assert "ZeroDivisionError: a bug" in done["bug.mp4"].problem
    assert done["good.mp4"].problem == ""


SLOW_RUN = """
import signal, sys, time
from pathlib import Path
from balltrack.batch import run_clips
from balltrack.lesson import Clip

def measure(clip):
    if "slow" in clip.name:
        time.sleep(60)
    return None

if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)  # what is started in the background ignores it
    names = ("1.mp4", "slow1.mp4", "slow2.mp4")
    all_clips = [Clip(Path(name), "clips/01-tee/" + name, "01-tee", None) for name in names]
    try:
        for done in run_clips(all_clips, measure, 2):
            print(done.clip.path.name, flush=True)
    except KeyboardInterrupt:
        print("stopped", flush=True)
"""


@pytest.mark.skipif(os.name == "nt", reason="interrupts are sent in another way there")
def test_ctrl_c_ends_the_workers_at_once_and_keeps_what_is_done(tmp_path: Path) -> None:
    script = tmp_path / "slow_run.py"
    script.write_text(SLOW_RUN)
    run = subprocess.Popen(
        [sys.executable, str(script)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        start_new_session=True,
    )
    assert run.stdout is not None
    with run:
        assert run.stdout.readline() == "1.mp4\n"
        time.sleep(0.2)
        start = time.monotonic()
        os.killpg(run.pid, signal.SIGINT)  # as a terminal does: to parent and workers alike
        rest = run.stdout.read()
        run.wait(timeout=20)
    assert rest == "stopped\n"
    assert time.monotonic() - start < 10  # not the minute that the slow clips would take
