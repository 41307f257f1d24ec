"""What goes wrong around a lesson: full and locked disks, pipes, files that change, clips that take too much."""

import ctypes
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from balltrack.batch import limits
from balltrack.batch.done import NO_MEMORY, measured_or_not
from balltrack.batch.limits import one_clip
from balltrack.batch.side_by_side import run_clips
from balltrack.cli import main
from balltrack.errors import LessonError, MeasureError, RecordError, VideoError
from balltrack.lesson import Clip, load_lesson
from balltrack.measure import ClipResult
from balltrack.plain_file import read_plain
from balltrack.records.alone import alone
from balltrack.records.atomic import write_atomic
from balltrack.records.store import read_swings
from balltrack.video.clip import probe
from balltrack.video.frames import read_frames
from tests.hostile.small_lesson import film, small_lesson

ROOT = Path(__file__).parents[2]
BALLTRACK = (sys.executable, "-m", "balltrack.cli")
PR_CAPBSET_DROP, CAP_DAC_OVERRIDE = 24, 1  # linux/prctl.h, linux/capability.h


def run(*words: str | Path, before: Callable[[], None] | None = None) -> subprocess.CompletedProcess[str]:
    """The real command, in a process in which ``before`` was done."""
    command = [*BALLTRACK, *map(str, words)]
    return subprocess.run(
        command, capture_output=True, text=True, check=False, timeout=300, cwd=ROOT, preexec_fn=before
    )


def fill_the_disk() -> None:
    """No file can grow further than a few bytes, as on a full disk."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (512, 512))


def obey_locks() -> None:
    """Root may write to what is locked; without that privilege it is as anybody else."""
    if os.geteuid() == 0 and ctypes.CDLL(None).prctl(PR_CAPBSET_DROP, CAP_DAC_OVERRIDE, 0, 0, 0):
        raise PermissionError("root cannot be made to obey")


def one_clear_line(text: str) -> str:
    lines = text.strip().split("\n")
    assert len(lines) == 1, text
    assert "Traceback" not in text
    return lines[0]


@pytest.fixture(scope="module")
def measured() -> Iterator[Path]:
    """A lesson that was measured: a film, and a file that is none, of which a record tells. Anybody may look at it."""
    with tempfile.TemporaryDirectory(prefix="balltrack-hostile-") as name:
        Path(name).chmod(0o755)
        folder = small_lesson(Path(name) / "lesson")
        (folder / "clips" / "01-tee" / "002.mp4").touch()
        done = run("measure", "--no-network", "--workers", "1", folder)
        assert done.returncode == 4, done.stderr  # nobody swings, and the other is an empty file
        yield folder


def test_on_a_full_disk_it_says_so_in_one_line_and_keeps_what_was_measured(measured: Path) -> None:
    results = measured / "results"
    before = {path: path.read_bytes() for path in results.rglob("*") if path.is_file() and "review" not in path.parts}
    assert len(read_swings(results / "swings.jsonl")) == 1
    done = run("measure", "--again", "--no-network", "--workers", "1", measured, before=fill_the_disk)
    assert done.returncode == 1
    assert "cannot be written: File too large" in one_clear_line(done.stderr)
    after = {path: path.read_bytes() for path in results.rglob("*") if path.is_file() and "review" not in path.parts}
    assert {path: after.get(path) for path in before} == before
    assert [path for path in results.rglob(".*") if path.is_file()] == []  # nothing half written is left


def test_in_a_locked_folder_it_says_so_in_one_line(measured: Path) -> None:
    locked = measured.parent / "locked"
    small_lesson(locked)
    locked.chmod(0o555)
    try:
        done = run("measure", "--no-network", locked, before=obey_locks)
    finally:
        locked.chmod(0o755)
    assert done.returncode == 1
    assert "results cannot be opened: Permission denied; free or unlock the folder" in one_clear_line(done.stderr)


def test_what_cannot_be_written_to_a_full_output_is_one_line() -> None:
    if not Path("/dev/full").exists():
        pytest.skip("this system has no device that is always full")
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run([*BALLTRACK, "lens", "list"], stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 1
    assert one_clear_line(done.stderr) == "No space left on device"


@pytest.mark.parametrize("name", ["a" * 300, "a/" * 3000, "line\nbreak", "turned\u202eround"])
def test_a_path_that_no_system_takes_or_shows_is_one_line(name: str) -> None:
    done = CliRunner().invoke(main, ["measure", name])
    assert done.exit_code in (1, 2)
    one_clear_line(done.stderr.split("\n\n")[-1])  # above a wrong word stands how to use the command


def test_a_pipe_for_a_file_is_refused_at_once(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.mp4"
    os.mkfifo(pipe)
    with pytest.raises(VideoError, match="a pipe or a device, not a clip"):
        probe(pipe)
    with pytest.raises(OSError, match="no plain file"):
        read_plain(pipe)
    with pytest.raises(RecordError, match="no plain file"):
        read_swings(pipe)
    folder = small_lesson(tmp_path / "lesson")
    (folder / "lesson.toml").unlink()
    os.mkfifo(folder / "lesson.toml")
    with pytest.raises(LessonError, match="no plain file"):
        load_lesson(folder)
    (folder / "clips" / "01-tee" / "002.mp4").symlink_to(pipe.rename(folder / "pipe"))
    (folder / "lesson.toml").unlink()
    small_lesson(folder)
    lesson = load_lesson(folder)
    assert [clip.path.name for clip in lesson.clips] == ["001.mp4"]
    assert any("002.mp4 left out: not a plain file" in notice for notice in lesson.notices)


def test_a_file_without_end_is_not_read_to_its_end(tmp_path: Path) -> None:
    endless = tmp_path / "swings.jsonl"
    with endless.open("wb") as file:
        file.truncate(10_000_000_000)  # takes no room on the disk
    with pytest.raises(RecordError, match="it has 10000 MB; 64 MB are most"):
        read_swings(endless)


def test_results_that_lead_out_of_the_lesson_are_refused(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    (outside / "tracks").mkdir(parents=True)
    for what, place in (("all", "results"), ("part", "results/tracks")):
        lesson = tmp_path / what
        (lesson / place).parent.mkdir(parents=True)
        (lesson / place).symlink_to(outside)
        with pytest.raises(RecordError, match="is a link that leads out"), alone(lesson / "results"):
            pass


def test_a_link_for_a_file_of_results_is_replaced_and_what_it_led_to_stays(tmp_path: Path) -> None:
    precious = tmp_path / "precious.txt"
    precious.write_text("mine")
    (tmp_path / "swings.jsonl").symlink_to(precious)
    write_atomic(tmp_path / "swings.jsonl", "new")
    assert precious.read_text() == "mine"
    assert (tmp_path / "swings.jsonl").read_text() == "new"


def clip_of(path: Path) -> Clip:
    return Clip(path, f"clips/01-tee/{path.name}", "01-tee", "tee")


def read_it_while_it_is_replaced(clip: Clip) -> ClipResult:
    """Another film comes in its place as the first half is read."""
    for frame in read_frames(clip.path):
        if frame.index == 5:
            film(clip.path.with_name("new.mp4"), frames=6, seed=2).replace(clip.path)
    return ClipResult(clip, (), (), "")


def test_a_clip_that_is_replaced_while_it_is_measured_is_said_to_be(tmp_path: Path) -> None:
    done = measured_or_not(clip_of(film(tmp_path / "001.mp4", frames=60)), read_it_while_it_is_replaced)
    assert done.result is None
    assert done.problem == "was replaced or changed while it was measured; measure again"


def ask_for_too_much(clip: Clip) -> ClipResult:
    """As a file does that lies about what it holds. At module level, so that workers find it."""
    np.zeros(limits.MOST_MEMORY_BYTES + 1, np.uint8)  # never touched: without a limit a system gives it away
    return ClipResult(clip, (), (), "")


def test_a_worker_may_have_six_gigabytes_and_what_asks_for_more_is_one_line(tmp_path: Path) -> None:
    if sys.platform != "linux":
        pytest.skip("only Linux tells a program that it has had enough")
    (done,) = run_clips([clip_of(tmp_path / "001.mp4")], ask_for_too_much, 1)
    assert done.problem == NO_MEMORY


def test_every_library_that_runs_out_of_memory_is_understood() -> None:
    script = (
        "import numpy as np, cv2\n"
        "from balltrack.batch.limits import bound_memory, out_of_memory\n"
        "bound_memory(600_000_000)\n"
        "small = np.zeros((1000, 1000), np.uint8)\n"
        "for ask in (lambda: np.zeros(10**10, np.uint8), lambda: cv2.resize(small, (60000, 60000)),\n"
        "            lambda: bytes(10**10)):\n"
        "    try:\n"
        "        ask()\n"
        "        print('had it')\n"
        "    except Exception as error:\n"
        "        print(out_of_memory(error))\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.stdout.split() == ["True"] * 3, done.stderr


def test_a_clip_that_takes_too_long_is_given_up_even_where_the_first_alarm_is_caught(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert limits.most_s(1000) > 100 * 3600  # a film of 1 GB, some minutes of 4K, is nowhere near the limit
    monkeypatch.setattr(limits, "LEAST_S", 2.0)  # and after twice that this very process would end
    monkeypatch.setattr(limits, "MOST_S_PER_MB", 0.0)
    monkeypatch.setattr(limits, "AGAIN_S", 0.1)
    path = film(tmp_path / "001.mp4", frames=3)
    began = time.monotonic()
    with pytest.raises(VideoError, match=r"far too long for 0\.\d MB"), one_clip(path):
        try:
            time.sleep(20)
        except MeasureError:
            time.sleep(20)
    assert time.monotonic() - began < 15


def test_a_library_that_never_comes_back_costs_its_process_and_no_more(tmp_path: Path) -> None:
    film(tmp_path / "001.mp4", frames=3)
    script = (
        "import ctypes, sys\n"
        "from pathlib import Path\n"
        "from balltrack.batch import limits\n"
        "limits.LEAST_S, limits.MOST_S_PER_MB = 0.3, 0.0\n"
        "with limits.one_clip(Path(sys.argv[1])):\n"
        "    ctypes.PyDLL(None).sleep(60)\n"  # holds Python's lock, as a decoder that hangs may
    )
    began = time.monotonic()
    done = subprocess.run([sys.executable, "-c", script, str(tmp_path / "001.mp4")], check=False, cwd=ROOT, timeout=50)
    assert done.returncode != 0
    assert time.monotonic() - began < 40
