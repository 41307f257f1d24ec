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
def empty_env(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An environment with a Python in it and no stamp; running anything but what a test allows is an error."""
    monkeypatch.setattr(setup_env, "VENV", tmp_path)
    monkeypatch.setattr(setup_env, "STAMP", tmp_path / "installed.json")
    monkeypatch.setattr(setup_env, "LOG", setup_env.ROOT / ".venv" / "never-written.log")
    python = setup_env.tool("python")
    python.parent.mkdir()
    python.touch()
    return python


def stamp(extras: list[str], pyproject: str) -> None:
    content = {"root": str(setup_env.ROOT), "python": sys.version, "pyproject": pyproject, "extras": extras}
    setup_env.STAMP.write_text(json.dumps(content))


def test_a_second_run_installs_nothing(empty_env: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(subprocess, "run", None)
    stamp(["dev"], setup_env._fingerprint())
    assert setup_env.ready_python(frozenset({"dev"})) == empty_env
    assert setup_env.ready_python(frozenset()) == empty_env


@pytest.mark.parametrize(("extras", "changed"), [(["dev"], True), ([], False)])
def test_a_changed_project_or_a_new_extra_is_installed_and_keeps_what_was_there(
    empty_env: Path, monkeypatch: pytest.MonkeyPatch, extras: list[str], changed: bool
) -> None:
    installed: list[list[str]] = []
    monkeypatch.setattr(setup_env, "_install", lambda python, wanted: installed.append(wanted))
    monkeypatch.setattr(setup_env, "_check_opencv", lambda python: None)
    stamp(extras, "other" if changed else setup_env._fingerprint())
    setup_env.ready_python(frozenset() if changed else frozenset({"dev"}))
    assert installed == [["dev"]]
    assert json.loads(setup_env.STAMP.read_text())["pyproject"] == setup_env._fingerprint()


def test_no_network_is_one_line(empty_env: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said = "WARNING: Retrying ... Failed to establish a new connection\nERROR: No matching distribution found"
    failed = subprocess.CompletedProcess([], 1, stdout=said)
    monkeypatch.setattr(subprocess, "run", lambda *args, **kwargs: failed)
    monkeypatch.setattr(setup_env, "ROOT", tmp_path)
    monkeypatch.setattr(setup_env, "LOG", tmp_path / "install.log")
    with pytest.raises(setup_env.SetupError, match="registry does not answer") as caught:
        setup_env._install(empty_env, [])
    assert "\n" not in str(caught.value)
    assert (tmp_path / "install.log").read_text() == said
