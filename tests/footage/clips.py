"""Where the real clips lie: some travel with the project, the others are read where they are, or their tests skip."""

from pathlib import Path

import pytest

from tests.video.encode import FOOTAGE

KEPT = Path(__file__).parents[1] / "footage_files"


def real_clip(name: str) -> Path:
    """A clip of the footage folder, such as ``toss/tennis_drop_100fps_rotated.mp4``; skips the test without it."""
    for path in (KEPT / Path(name).name, FOOTAGE / name):
        if path.is_file():
            return path
    pytest.skip(f"{name} does not travel with the project, and ../shared/footage is absent")
