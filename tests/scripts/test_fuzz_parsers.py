"""The search for input that parsers stumble over: it runs, and it finds."""

import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("atheris", reason="there is none for this system")
SCRIPT = Path(__file__).parents[2] / "scripts" / "fuzz_parsers.py"


def search(place: Path, *command: str) -> subprocess.CompletedProcess[str]:
    # The search takes for its own what the process that started it has held at most: here a shell, not these tests.
    shell = ["sh", "-c", '"$@"; exit $?', "sh"]
    return subprocess.run(
        [*shell, sys.executable, *command], cwd=place, capture_output=True, text=True, check=False, timeout=240
    )


def test_a_short_search_finds_nothing_in_lesson_toml(tmp_path: Path) -> None:
    done = search(tmp_path, str(SCRIPT), "lesson", "-runs=400", "-seed=1")
    assert done.returncode == 0, done.stderr
    assert "Done 400 runs" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_parser_that_stumbles_over_one_letter_is_found_out(tmp_path: Path) -> None:
    script = (
        "import sys\n"
        f"sys.path.insert(0, {str(SCRIPT.parent)!r})\n"
        "sys.argv = ['fuzz_parsers.py', 'hand', '-runs=20000', '-seed=1']\n"
        "import fuzz_parsers\n"
        "fuzz_parsers.PARSERS['hand'] = lambda folder, data: data.index(b'1') and None\n"  # the seed has some
        "fuzz_parsers.main()\n"
    )
    done = search(tmp_path, "-c", script)
    assert done.returncode != 0
    assert "ValueError: subsection not found" in done.stdout + done.stderr
    assert [path.name[:6] for path in tmp_path.iterdir()] == ["crash-"]
