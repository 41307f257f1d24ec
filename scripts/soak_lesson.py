"""A lesson of very many small clips, some of them damaged: made from the sample lesson, for soak.py and the tests."""

import os
import re
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import imageio_ffmpeg  # type: ignore[import-untyped]
import numpy as np

SAMPLE = Path(__file__).resolve().parents[1] / "sample_clips"
SHRINK = 3  # 640 x 360: the ball is still 8 px wide where it is struck
BLOCKS = ("01-tee", "02-toss", "03-live", "04-tee")
HIT_STOP_S = 0.85  # the ball is seen for a fifth of a second or more
QUIET_S, FPS = 0.4, 60

BITEXACT = ("-threads", "1", "-fflags", "+bitexact", "-flags:v", "+bitexact", "-flags:a", "+bitexact")
SMALL = ("-c:v", "libx264", "-preset", "ultrafast", "-crf", "16", *BITEXACT)

Damage = Callable[[bytes, np.random.Generator], bytes]


@dataclass(frozen=True, slots=True)
class Mix:
    """What the clips of a lesson are."""

    clips: int
    hit_share: float = 0.05  # the others show a batter who stands still: quick to measure
    fault_share: float = 0.05


def make_lesson(folder: Path, mix: Mix, seed: int) -> dict[str, str]:
    """Make the lesson, lesson.toml and clips; returns what each clip is: hit, quiet, or its damage."""
    draw = np.random.default_rng(seed)
    hits, quiet = make_bases(folder.parent / f"{folder.name}-bases", mix.hit_share > 0)
    kinds: dict[str, str] = {}
    faults = set(draw.choice(mix.clips, round(mix.fault_share * mix.clips), replace=False).tolist())
    for number in range(mix.clips):
        swings = draw.random() < mix.hit_share
        pool = hits if swings else quiet
        base, name = pool[draw.integers(len(pool))], f"clips/{BLOCKS[number % len(BLOCKS)]}/{number:05d}.mp4"
        kinds[name] = "hit" if swings else "quiet"
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        if number in faults:
            kinds[name] = list(DAMAGES)[len([kind for kind in kinds.values() if kind in DAMAGES]) % len(DAMAGES)]
            (folder / name).write_bytes(DAMAGES[kinds[name]](base.read_bytes(), draw))
        else:
            os.link(base, folder / name)  # repeats take no room on the disk
    (folder / "lesson.toml").write_text(small_toml((SAMPLE / "lesson.toml").read_text(encoding="utf-8")))
    return kinds


def make_bases(folder: Path, with_hits: bool) -> tuple[list[Path], list[Path]]:
    """Small clips of the sample lesson: those with a swing, and those in which nobody moves."""
    folder.mkdir(parents=True, exist_ok=True)
    hits, quiet = [], []
    for clip in sorted((SAMPLE / "clips").rglob("*.mp4")):
        if with_hits:
            hits.append(cut(clip, folder / f"{clip.stem}.mp4", 0.0, HIT_STOP_S))
        quiet.append(stand_still(clip, folder / f"{clip.stem}-still.mp4"))
    return hits, quiet


def cut(clip: Path, to: Path, start_s: float, stop_s: float, shrink: int = SHRINK) -> Path:
    """A piece of a clip, made smaller, with its sound; the same bytes each time."""
    _ffmpeg("-ss", f"{start_s}", "-to", f"{stop_s}", "-i", str(clip), "-vf", _smaller(shrink), *SMALL, str(to))
    return to


def stand_still(clip: Path, to: Path, shrink: int = SHRINK) -> Path:
    """A clip's first picture for a while, in silence."""
    silence = ("-f", "lavfi", "-t", f"{QUIET_S}", "-i", "anullsrc=r=48000:cl=mono")
    still = f"[0:v]select=eq(n\\,0),{_smaller(shrink)},loop=-1:1:0,setpts=N/{FPS}/TB[v]"
    span = ("-map", "[v]", "-map", "1:a", "-r", str(FPS), "-t", f"{QUIET_S}")
    _ffmpeg("-t", "0.02", "-i", str(clip), *silence, "-filter_complex", still, *span, *SMALL, str(to))
    return to


def _smaller(shrink: int) -> str:
    return f"scale=iw/{shrink}:ih/{shrink}:flags=area"


def _ffmpeg(*words: str) -> None:
    subprocess.run([imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *words], check=True)


def small_toml(text: str, shrink: int = SHRINK) -> str:
    """The lesson with its marks where they are in the smaller picture. Pixel (0, 0) is a pixel's centre."""

    def moved(pixel: re.Match[str]) -> str:
        u_px, v_px = ((float(each) + 0.5) / shrink - 0.5 for each in pixel.groups())
        return f"pixel = [{u_px:.2f}, {v_px:.2f}]"

    return re.sub(r"pixel = \[([\d.]+), ([\d.]+)\]", moved, text)


def _flipped(data: bytes, draw: np.random.Generator) -> bytes:
    """A byte in a thousand is another one."""
    bytes_ = np.frombuffer(data, np.uint8).copy()
    where = draw.choice(len(bytes_), len(bytes_) // 1000, replace=False)
    bytes_[where] = draw.integers(0, 256, len(where), dtype=np.uint8)
    return bytes_.tobytes()


DAMAGES: dict[str, Damage] = {
    "empty": lambda data, draw: b"",
    "cut off": lambda data, draw: data[: len(data) // 2],
    "beginning lost": lambda data, draw: data[len(data) // 3 :],
    "bytes flipped": _flipped,
    "noise": lambda data, draw: draw.bytes(20_000),
    "text": lambda data, draw: b"The phone was full.\n" * 100,
}
