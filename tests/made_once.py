"""What takes long to make is made once in a run, by whichever of its test processes asks first."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from balltrack.records.alone import alone

LONGEST_S = 900.0  # that another process may take to make it, on a very busy machine


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """The folder that ``make`` fills, given where to make it; all test processes share it, so work on copies."""
    own = factory.getbasetemp()
    place = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / f"made-once-{name}"
    made, half = place / "lesson", place / "half" / "lesson"
    with alone(place, LONGEST_S):
        if not made.is_dir():
            shutil.rmtree(half.parent, ignore_errors=True)  # of a process that failed
            half.parent.mkdir()
            make(half)
            half.rename(made)
    return made
