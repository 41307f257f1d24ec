"""A small film of a whole lesson: rendered swings with what happens between them, and the truth about it.

The swings are those of sample_clips at a sixth of their size, with their own sound. Between them the batter stands,
people walk through the box, cages nearby crack, somebody claps and talks, a bat is dropped.
"""

import json
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from bench.noises import clang, claps, crack, speech
from numpy.typing import NDArray

from balltrack.units import Floats
from tests.video.encode import RATE_HZ, encode_luma, ffmpeg, write_wave

SAMPLE = Path(__file__).parents[2] / "sample_clips"
WIDTH, HEIGHT, FPS = 320, 180, 30
SHRUNK = 1920 // WIDTH
RESET_S = 0.8  # the batter goes back to the stance
Luma = NDArray[np.uint8]


@dataclass(eq=False)
class Film:
    """Pictures and sound as they are put together."""

    seed: int = 7
    pictures: list[Luma] = field(default_factory=list)
    sounds: list[tuple[float, Floats]] = field(default_factory=list)  # start, samples
    contacts_s: list[float] = field(default_factory=list)  # of all swings
    heard: list[bool] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.random = np.random.default_rng(self.seed)
        self._grain = np.rint(self.random.normal(0, 2, (16, HEIGHT, WIDTH))).astype(np.int16)

    @property
    def now_s(self) -> float:
        return len(self.pictures) / FPS

    def swing(self, name: str) -> None:
        """A swing of the sample, such as 01-tee/swing-01.mp4, from the stance and back to it."""
        truth = _truth()[name]
        pictures, sound = _clip(name)
        self.contacts_s.append(self.now_s + float(str(truth["contact_s"])))
        self.heard.append(truth["outcome"] == "hit")
        self.sounds.append((self.now_s, sound))
        self.pictures += [self._grainy(picture) for picture in pictures]
        stance = _stance()
        for share in np.linspace(0, 1, round(RESET_S * FPS)):
            between = cv2.addWeighted(pictures[-1], 1 - share, stance, share, 0)
            self.pictures.append(self._grainy(np.asarray(between, np.uint8)))

    def stand(self, seconds: float, walker: bool = False, drops_bat: bool = False) -> None:
        """The batter stands; somebody walks right through the box, or the bat falls in front of the batter."""
        stance, count = _stance(), round(seconds * FPS)
        for k in range(count):
            picture = stance.copy()
            if walker:
                _draw_walker(picture, k / count, k / FPS)
            if drops_bat:
                _draw_falling_bat(picture, k / FPS)
            self.pictures.append(self._grainy(picture))

    def hear(self, sound: Floats, ago_s: float = 0.0) -> None:
        """A sound that began so long ago."""
        self.sounds.append((self.now_s - ago_s, sound))

    def write(self, path: Path, *args: str) -> Path:
        """As a phone writes it: H.264 with a key frame a second, AAC."""
        samples = 0.002 * self.random.standard_normal(round(self.now_s * RATE_HZ))
        for start_s, sound in self.sounds:
            begin = round(start_s * RATE_HZ)
            part = samples[begin : begin + len(sound)]
            part += sound[: len(part)]
        wave = write_wave(path.with_suffix(".wav"), np.clip(samples, -1, 1))
        video = ("-c:v", "libx264", "-preset", "ultrafast", "-crf", "20", "-g", str(FPS), "-c:a", "aac")
        return encode_luma(path, np.array(self.pictures), "-i", wave, *video, *args, fps=FPS)

    def _grainy(self, picture: Luma) -> Luma:
        grain = self._grain[self.random.integers(len(self._grain))]
        return np.asarray(np.clip(picture + grain, 16, 235), np.uint8)


def whole_lesson(path: Path) -> tuple[Film, Path]:
    """Two blocks with a pause between them: 4 swings off a tee and past a pitch, then 5 tossed and pitched ones.

    Between them: words, claps, cracks of another cage, a dropped bat, and twice somebody who walks right through the
    box just as another cage's bat cracks.
    """
    film = Film()
    film.stand(2)
    film.hear(speech(1.8, 0.05), 1.9)
    film.hear(crack(0.25), 0.3)
    for name in ("01-tee/swing-01.mp4", "01-tee/swing-02.mp4", "01-tee/swing-03.mp4"):
        film.swing(name)
        film.stand(2)
        film.hear(crack(0.2), 0.9)
    film.stand(2.5, drops_bat=True)
    film.hear(clang(0.4), 1.1)
    film.stand(6, walker=True)
    film.hear(claps(4, 0.3), 4)
    film.hear(crack(0.3), 3.4)
    film.swing("03-live/swing-07.mp4")
    film.stand(42)
    film.hear(speech(4, 0.05), 30)
    film.hear(claps(4, 0.4), 12)
    for name in (
        "02-toss/swing-04.mp4",
        "02-toss/swing-05.mp4",
        "03-live/swing-07.mp4",
        "02-toss/swing-06.mp4",
        "03-live/swing-08.mp4",
    ):
        film.swing(name)
        film.stand(1.8)
        film.hear(crack(0.15), 0.8)
    film.stand(6, walker=True)
    film.hear(crack(0.2), 3.4)
    return film, film.write(path)


def _truth() -> dict[str, dict[str, object]]:
    lines = (SAMPLE / "truth" / "swings.jsonl").read_text().splitlines()
    return {swing["clip"]: swing for swing in map(json.loads, lines)}


_CLIPS: dict[str, tuple[list[Luma], Floats]] = {}


def _clip(name: str) -> tuple[list[Luma], Floats]:
    """Small pictures and sound of a clip of the sample."""
    if name not in _CLIPS:
        path = SAMPLE / "clips" / name
        small = f"scale={WIDTH}:{HEIGHT}:flags=area,fps={FPS},format=gray"
        raw = ffmpeg("-i", path, "-vf", small, "-f", "rawvideo", "-")
        pictures = np.frombuffer(raw, np.uint8).reshape(-1, HEIGHT, WIDTH)
        # Gray of the ffmpeg program has full range.
        limited = np.rint(16 + pictures.astype(np.float32) * (219 / 255)).astype(np.uint8)
        sound = np.frombuffer(ffmpeg("-i", path, "-ac", "1", "-ar", str(RATE_HZ), "-f", "f32le", "-"), np.float32)
        _CLIPS[name] = list(limited), sound.astype(np.float64)
    return _CLIPS[name]


def _stance() -> Luma:
    return _clip("03-live/swing-08.mp4")[0][0]


def _draw_walker(picture: Luma, way: float, at_s: float) -> None:
    """A person of the batter's size who crosses the picture from left to right, legs and arms swinging."""
    x, y = round(-20 + way * (WIDTH + 40)), 108
    swing = 14 * np.sin(2 * np.pi * 1.8 * at_s / 2)
    for leg in (-swing, swing):
        cv2.line(picture, (x, y), (round(x + leg), y + 36), 40, 6)
        cv2.line(picture, (x, y - 28), (round(x - leg), y), 90, 4)
    cv2.ellipse(picture, (x, y - 15), (8, 20), 0, 0, 360, 60, -1)
    cv2.circle(picture, (x, y - 42), 7, 150, -1)


def _draw_falling_bat(picture: Luma, at_s: float) -> None:
    """From the batter's hands to the ground in 0.4 s, 1 s from the start; then it lies."""
    fallen = np.clip((at_s - 1.0) / 0.4, 0, 1) ** 2
    if at_s >= 1.0:
        x, y = 78, round(90 + 52 * fallen)
        cv2.line(picture, (x, y), (round(x + 26), round(y - 12 * (1 - fallen))), 30, 2)
