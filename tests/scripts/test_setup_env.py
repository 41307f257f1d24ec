"""Set-up says in one line what a machine lacks, and does nothing where nothing changed."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
import setup_env


def test_an_old_python_is_told_to_be_replaced() -> None:
    with pytest.raises(setup_env.SetupError, match=r"Python 3\.9 is too old; install Python 3\.11"):
        setup_env.check_python((3, 9))


def test_a_missing_venv_module_comes_with_its_remedy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ensurepip", None)  # as Debian ships Python without python3-venv
    with pytest.raises(setup_env.SetupError, match="apt-get install python3-venv"):
        setup_env.check_python()


def test_a_missing_system_library_comes_with_its_remedy() -> None:
    error = "Traceback\nImportError: libGL.so.1: cannot open shared object file: No such file or directory\n"
    assert "apt-get install libgl1 libglib2.0-0" in setup_env.opencv_words(error)


@pytest.fixture
def empty_env(tmp_path: Path) -> Path:
    """An environment with a Python in it and no stamp; running anything but what a test allows is an error."""
    python = setup_env.tool("python", tmp_path)
    python.parent.mkdir()
    python.touch()
    return tmp_path


def stamp(venv: Path, extras: list[str], pyproject: str) -> None:
    content = {"root": str(setup_env.ROOT), "python": sys.version, "pyproject": pyproject, "extras": extras}
    (venv / setup_env.STAMP).write_text(json.dumps(content))


def test_a_second_run_installs_nothing(empty_env: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(subprocess, "run", None)
    stamp(empty_env, ["dev"], setup_env._fingerprint())
    python = setup_env.tool("python", empty_env)
    assert setup_env.ready_python(frozenset({"dev"}), empty_env) == python
    assert setup_env.ready_python(frozenset(), empty_env) == python


@pytest.mark.parametrize(("extras", "changed"), [(["dev"], True), ([], False)])
def test_a_changed_project_or_a_new_extra_is_installed_and_keeps_what_was_there(
    empty_env: Path, monkeypatch: pytest.MonkeyPatch, extras: list[str], changed: bool
) -> None:
    installed: list[list[str]] = []
    monkeypatch.setattr(setup_env, "_install", lambda python, wanted, log: installed.append(wanted))
    monkeypatch.setattr(setup_env, "_check_opencv", lambda python: None)
    stamp(empty_env, extras, "other" if changed else setup_env._fingerprint())
    setup_env.ready_python(frozenset() if changed else frozenset({"dev"}), empty_env)
    assert installed == [["dev"]]
    assert json.loads((empty_env / setup_env.STAMP).read_text())["pyproject"] == setup_env._fingerprint()


def test_no_network_is_one_line(empty_env: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said = "WARNING: Retrying ... Failed to establish a new connection\nERROR: No matching distribution found"
    failed = subprocess.CompletedProcess([], 1, stdout=said)
    monkeypatch.setattr(subprocess, "run", lambda *args, **kwargs: failed)
    monkeypatch.setattr(setup_env, "ROOT", tmp_path)
    with pytest.raises(setup_env.SetupError, match="registry does not answer") as caught:
        setup_env._install(setup_env.tool("python", empty_env), [], empty_env / setup_env.LOG)
    assert "\n" not in str(caught.value)
    assert (empty_env / setup_env.LOG).read_text() == said


def test_a_full_disk_is_one_line_with_what_to_leave_out(
    empty_env: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = "ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device"
    monkeypatch.setattr(subprocess, "run", lambda *args, **kwargs: subprocess.CompletedProcess([], 1, stdout=said))
    monkeypatch.setattr(setup_env, "ROOT", tmp_path)
    with pytest.raises(setup_env.SetupError, match="7 GB: --no-training leaves it out"):
        setup_env._install(setup_env.tool("python", empty_env), [], empty_env / setup_env.LOG)


def test_without_a_browser_and_without_the_right_to_install_one_a_line_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("shutil.which", lambda name: None)
    with pytest.raises(setup_env.SetupError, match="sudo apt-get install chromium"):
        setup_env.ready_browser()
