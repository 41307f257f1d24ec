"""A lesson of real films, tiny and dull: nobody swings. It goes through all of measuring in a few seconds."""

import re
from functools import cache
from pathlib import Path

import numpy as np

from tests.lesson.lessons import GOOD
from tests.video.encode import encode_luma

SMALLER = 6  # 1920 x 1080 becomes 320 x 180


@cache
def small_toml() -> str:
    """The good lesson's marks on the smaller picture: (u + 1/2) / 6 - 1/2, as pixel centres go."""

    def smaller(found: re.Match[str]) -> str:
        u, v = ((float(each) + 0.5) / SMALLER - 0.5 for each in found.groups())
        return f"pixel = [{u:.3f}, {v:.3f}]"

    return re.sub(r"pixel = \[([\d.]+), ([\d.]+)\]", smaller, GOOD)


def film(path: Path, frames: int = 12, seed: int = 1) -> Path:
    """A still picture of grass, filmed."""
    rng = np.random.default_rng(seed)
    grass = rng.integers(60, 180, (180, 320), dtype=np.uint8)
    path.parent.mkdir(parents=True, exist_ok=True)
    return encode_luma(path, np.repeat(grass[None], frames, axis=0), "-c:v", "libx264", "-preset", "ultrafast")


def small_lesson(folder: Path) -> Path:
    """A folder with lesson.toml and one film."""
    film(folder / "clips" / "01-tee" / "001.mp4")
    (folder / "lesson.toml").write_text(small_toml())
    return folder
