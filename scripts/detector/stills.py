"""What a small clip is composed over: crops of photographs and of real videos, or textures drawn from noise."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.video.frames import read_frames

Bytes = NDArray[np.uint8]
Image = NDArray[np.float32]

PICTURES, VIDEOS = {".jpg", ".jpeg", ".png"}, {".mp4", ".avi", ".mov", ".mkv", ".webm", ".3gp"}
LONGEST_SIDE_PX = 1600
MOST_FRAMES_OF_A_VIDEO = 60


@dataclass(frozen=True, slots=True, eq=False)
class Stills:
    """Real pictures to cut backgrounds from, as luma; a video's frames stand in a row, so that it can be played."""

    pictures: tuple[Bytes, ...]  # each (h, w)
    videos: tuple[Bytes, ...]  # each (frames, h, w)


def load_stills(paths: Sequence[Path]) -> Stills:
    """Read photographs and videos, from files or from folders of them."""
    files = sorted(file for path in paths for file in (path.rglob("*") if path.is_dir() else [path]))
    pictures = [_picture(file) for file in files if file.suffix.lower() in PICTURES]
    videos = [_video(file) for file in files if file.suffix.lower() in VIDEOS]
    return Stills(tuple(pictures), tuple(videos))


def _picture(file: Path) -> Bytes:
    image = cv2.imread(str(file), cv2.IMREAD_GRAYSCALE)
    if image is None:
        raise ValueError(f"{file.name} is not a picture that OpenCV can read; leave it out")
    return _bounded(np.asarray(image, np.uint8))


def _video(file: Path) -> Bytes:
    frames = itertools.islice(read_frames(file), MOST_FRAMES_OF_A_VIDEO)
    return np.stack([_bounded(frame.luma) for frame in frames])


def _bounded(image: Bytes) -> Bytes:
    scale = LONGEST_SIDE_PX / max(image.shape)
    if scale >= 1:
        return image
    return np.asarray(cv2.resize(image, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.uint8)


def background(rng: np.random.Generator, stills: Stills, side_px: int) -> Image:
    """(side, side) a still background, codes 0 to 255."""
    kind = rng.random()
    if kind < 0.45 and stills.pictures:
        part = _cut(rng, stills.pictures[rng.integers(len(stills.pictures))], side_px)
    elif kind < 0.55 and stills.videos:
        video = stills.videos[rng.integers(len(stills.videos))]
        part = _cut(rng, video[rng.integers(len(video))], side_px)
    else:
        part = _drawn(rng, side_px)
    contrast, shift = rng.uniform(0.5, 1.3), rng.normal(0, 25)
    return np.asarray(np.clip((part - part.mean()) * contrast + part.mean() + shift, 3, 252), np.float32)


def playing(rng: np.random.Generator, stills: Stills, side_px: int, frames: int) -> Image | None:
    """(frames, side, side) a part of a real video in motion; None where there is none."""
    if not stills.videos:
        return None
    video = stills.videos[rng.integers(len(stills.videos))]
    if len(video) < frames:
        return None
    start = int(rng.integers(len(video) - frames + 1))
    state = rng.bit_generator.state
    parts = []
    for k in range(frames):
        rng.bit_generator.state = state  # the same cut of every frame
        parts.append(_cut(rng, video[start + k], side_px))
    return np.stack(parts)


def _cut(rng: np.random.Generator, image: Bytes, side_px: int) -> Image:
    """A square part at a random scale, mirrored or not."""
    side = int(np.clip(side_px * np.exp(rng.uniform(-0.9, 1.2)), 24, min(image.shape)))
    top, left = (int(rng.integers(length - side + 1)) for length in image.shape)
    part = image[top : top + side, left : left + side]
    way = cv2.INTER_AREA if side > side_px else cv2.INTER_CUBIC
    part = np.asarray(cv2.resize(part, (side_px, side_px), interpolation=way), np.uint8)
    return np.asarray(part[:, :: int(rng.choice([-1, 1]))], np.float32)


def _drawn(rng: np.random.Generator, side_px: int) -> Image:
    """Noise of several grains over one or two even parts: grass, dirt, sky, wall, foliage."""
    image = np.full((side_px, side_px), rng.uniform(15, 240), np.float32)
    if rng.random() < 0.5:  # a horizon, a wall's foot, a chalk line's edge
        v, u = np.mgrid[0:side_px, 0:side_px].astype(np.float32) - side_px / 2
        turn, off = rng.uniform(0, np.pi), rng.uniform(-0.4, 0.4) * side_px
        image[u * np.sin(turn) + v * np.cos(turn) > off] = rng.uniform(15, 240)
    grain = rng.exponential(12)
    for step in (1, 2, 4, 8, 16, 32):
        cells = -(-side_px // step) + 1
        noise = rng.normal(0, 1, (cells, cells)).astype(np.float32)
        full = cv2.resize(noise, None, fx=step, fy=step, interpolation=cv2.INTER_CUBIC)
        image += grain * float(rng.uniform(0, 0.7)) * full[:side_px, :side_px]
    return np.clip(image, 0, 255)
