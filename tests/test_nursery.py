"""Workers begin loaded, alone in their process, and from the same program as who started them."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

import balltrack
from balltrack.batch import run_clips
from balltrack.lesson import Clip
from balltrack.measure import ClipResult

ROOT = Path(__file__).parent.parent
linux_only = pytest.mark.skipif(sys.platform != "linux", reason="workers are copies on Linux only")


def tell_of_itself(clip: Clip) -> ClipResult:
    """At module level, so that workers find it."""
    parent = Path("/proc", str(os.getppid()))
    threads = len(list((parent / "task").iterdir()))
    return ClipResult(clip, (), (), f"{threads} {balltrack.__file__} {'matplotlib' in sys.modules}")


@linux_only
def test_what_a_worker_is_copied_from_has_one_thread_and_this_program_and_loads_nothing_that_draws() -> None:
    # A copy of a process with more threads than one may find locks held for ever.
    clip = Clip(Path("/lesson/1.mp4"), "clips/01-tee/1.mp4", "01-tee", "tee")
    (done,) = run_clips([clip], tell_of_itself, 1)
    assert done.result is not None
    assert done.result.note == f"1 {balltrack.__file__} False"


HOSTILE = """
import multiprocessing, sys
from pathlib import Path
from balltrack.batch import run_clips
from balltrack.errors import MeasureError
from balltrack.lesson import Clip

def measure(clip):
    return None

if __name__ == "__main__":
    if len(sys.argv) > 1:
        multiprocessing.set_executable(sys.argv[1])
    try:
        for done in run_clips([Clip(Path("1.mp4"), "clips/01-tee/1.mp4", "01-tee", None)], measure, 1):
            print(done.problem or "measured")
    except MeasureError as error:
        print(error)
"""


def run_in(folder: Path, *words: str) -> str:
    script = folder / "script" / "run.py"
    script.parent.mkdir()
    script.write_text(HOSTILE)
    ran = subprocess.run(
        [sys.executable, str(script), *words],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return ran.stdout


def test_no_worker_takes_a_module_from_the_folder_that_the_program_stands_in(tmp_path: Path) -> None:
    # A folder of clips from elsewhere may hold anything.
    (tmp_path / "cv2.py").write_text("import os; os._exit(7)")
    assert run_in(tmp_path) == "measured\n"


@linux_only
def test_where_no_process_can_be_started_one_line_says_so(tmp_path: Path) -> None:
    assert run_in(tmp_path, "/bin/false").startswith("no worker process can be started")
