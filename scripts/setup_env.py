"""Make an environment beside this folder and install the project into it, once; later runs see that nothing changed.

.venv is the one for all work; .venv-train holds the training set besides, which takes 6.5 GB, and is made only for it.

Standard library only, and syntax that an old Python can still read: it must live to say that it is too old.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, NoReturn

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
TRAINING_VENV = ROOT / ".venv-train"
STAMP, LOG = "installed.json", "install.log"  # in an environment
OLDEST = (3, 11)
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")

NETWORK_SIGNS = (
    "Temporary failure in name resolution",
    "Failed to establish a new connection",
    "Connection refused",
    "Network is unreachable",
    "getaddrinfo failed",
    "timed out",
    "ProxyError",
    "SSLError",
)


class SetupError(Exception):
    """One line: what is wrong and what to do."""


def run_in_env(main: Callable[[Path], int], extras: Iterable[str] = ()) -> NoReturn:
    """Call ``main`` with the environment's Python and exit with what it returns; set-up trouble is one line, exit 1."""
    try:
        check_python()
        status = main(ready_python(frozenset(extras)))
    except SetupError as error:
        print(error, file=sys.stderr)
        status = 1
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        status = 130
    sys.exit(status)


def check_python(version: tuple[int, ...] = tuple(sys.version_info[:2])) -> None:
    if version < OLDEST:
        raise SetupError(
            "Python {}.{} is too old; install Python {}.{} or newer and run this with it".format(*version, *OLDEST)
        )
    try:
        import ensurepip  # noqa: F401
        import venv  # noqa: F401
    except ImportError:
        raise SetupError(
            "This Python cannot make virtual environments; on Debian or Ubuntu: sudo apt-get install python3-venv"
        ) from None


def ready_python(extras: frozenset[str], venv: Path = VENV) -> Path:
    """Path of an environment's Python, with the project and ``extras`` installed."""
    python = tool("python", venv)
    stamp = _read_stamp(venv)
    here = {"root": str(ROOT), "python": sys.version, "pyproject": _fingerprint()}
    same_place = python.exists() and all(stamp.get(key) == here[key] for key in ("root", "python"))
    installed = frozenset(stamp.get("extras", ())) if same_place else frozenset()
    if same_place and stamp.get("pyproject") == here["pyproject"] and extras <= installed:
        return python
    print(f"Installing into {venv.name} (once; a minute or two) ...", flush=True)
    if not same_place:
        _make_venv(venv)
    wanted = sorted(extras | installed)
    _install(python, wanted, venv / LOG)
    if venv == VENV:
        shutil.rmtree(ROOT / ".mypy_cache", ignore_errors=True)  # it remembers packages that were missing
    _check_opencv(python)
    (venv / STAMP).write_text(json.dumps({**here, "extras": wanted}), encoding="utf-8")
    return python


def ready_browser() -> None:
    """See that a browser is there that tests can drive; install Debian's where this user may."""
    if any(shutil.which(name) for name in BROWSERS):
        return
    words = "No browser for the tests of the desk page; on Debian or Ubuntu: sudo apt-get install chromium"
    if shutil.which("apt-get") is None or getattr(os, "geteuid", lambda: 1)() != 0:
        raise SetupError(words)
    print("Installing Chromium (once; half a minute) ...", flush=True)
    install = ["install", "-y", "-q", "--no-install-recommends", "chromium"]
    done = _apt_get(install)
    if done.returncode:  # the list of packages may be missing or old
        _apt_get(["update", "-q"])
        done = _apt_get(install)
    if done.returncode or not any(shutil.which(name) for name in BROWSERS):
        raise SetupError(f"{words} ({_last_line(done.stdout + done.stderr)})")


def _apt_get(words: list[str]) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    return subprocess.run(["apt-get", *words], env=environment, capture_output=True, text=True)


def tool(name: str, venv: Path = VENV) -> Path:
    """Path of a program in an environment."""
    return venv / "Scripts" / f"{name}.exe" if os.name == "nt" else venv / "bin" / name


def _fingerprint() -> str:
    return hashlib.sha256((ROOT / "pyproject.toml").read_bytes()).hexdigest()


def _read_stamp(venv: Path) -> dict[str, Any]:
    try:
        found = json.loads((venv / STAMP).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _make_venv(venv: Path) -> None:
    made = subprocess.run([sys.executable, "-m", "venv", "--clear", str(venv)], capture_output=True, text=True)
    if made.returncode:
        raise SetupError(f"{venv.name} cannot be made: {_last_line(made.stdout + made.stderr)}")


def _install(python: Path, extras: list[str], log: Path) -> None:
    target = f"{ROOT}[{','.join(extras)}]" if extras else str(ROOT)
    pip = [str(python), "-m", "pip", "install", "--disable-pip-version-check", "--retries", "2", "--timeout", "20"]
    done = subprocess.run([*pip, "-e", target], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    log.write_text(done.stdout, encoding="utf-8")
    if done.returncode:
        where = f"details in {log.relative_to(ROOT)}"
        if "No space left on device" in done.stdout:
            raise SetupError(f"The disk is full; the training set needs 7 GB: --no-training leaves it out ({where})")
        if any(sign in done.stdout for sign in NETWORK_SIGNS):
            raise SetupError(f"The package registry does not answer; connect to the network and run again ({where})")
        raise SetupError(f"pip could not install the packages: {_last_line(done.stdout)} ({where})")


def _check_opencv(python: Path) -> None:
    tried = subprocess.run([str(python), "-c", "import cv2"], capture_output=True, text=True)
    if tried.returncode:
        raise SetupError(opencv_words(tried.stderr))


def opencv_words(error: str) -> str:
    reason = _last_line(error)
    if ".so" in reason:
        return (
            f"OpenCV lacks a system library ({reason}); on Debian or Ubuntu: sudo apt-get install libgl1 libglib2.0-0"
        )
    return f"OpenCV does not start: {reason}"


def _last_line(text: str) -> str:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    errors = [line for line in lines if line.startswith("ERROR:")]
    return (errors or lines or ["no reason given"])[-1]
