"""Real files for the tests, written by the ffmpeg program: another party than the decoder under test."""

import subprocess
import wave
from pathlib import Path

import imageio_ffmpeg  # type: ignore[import-untyped]
import numpy as np
from numpy.typing import NDArray

FOOTAGE = Path(__file__).parents[3] / "shared" / "footage"
RATE_HZ = 48000
FLASH_S = 0.5  # when the flash and the click of flash_and_click happen
LOSSLESS = ("-c:v", "libx264", "-qp", "0", "-preset", "ultrafast")


def ffmpeg(*args: str | Path, stdin: bytes = b"") -> bytes:
    """Run ffmpeg and return what it prints; its own complaint is the failure."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *map(str, args)]
    done = subprocess.run(command, input=stdin, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout


def moving_square(count: int = 30, width: int = 128, height: int = 96) -> NDArray[np.uint8]:
    """(count, height, width) in limited range: a bright square that walks over a slope, no two frames alike."""
    slope = np.linspace(30, 120, width)[None, :] + np.linspace(0, 60, height)[:, None]
    frames = np.repeat(slope.astype(np.uint8)[None], count, axis=0)
    for i in range(count):
        frames[i, 10:26, 2 * i : 2 * i + 16] = 230
    return frames


def yuv420(luma: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The same pictures with flat chroma appended to each, so that ffmpeg need not convert them: (n, 3h/2, w)."""
    count, height, width = luma.shape
    return np.concatenate([luma, np.full((count, height // 2, width), 128, np.uint8)], axis=1)


def encode_luma(path: Path, luma: NDArray[np.uint8], *args: str | Path, fps: int = 30) -> Path:
    """Write luma that reaches the encoder byte for byte."""
    size = f"{luma.shape[2]}x{luma.shape[1]}"
    raw = ("-f", "rawvideo", "-pix_fmt", "yuv420p", "-s", size, "-r", str(fps), "-i", "-")
    ffmpeg(*raw, *args, path, stdin=yuv420(luma).tobytes())
    return path


def flash_and_click(path: Path, *args: str | Path, fps: int = 60, b_frames: bool = True) -> Path:
    """A clip of 1 s in which a white flash begins, and a click sounds, at ``FLASH_S``."""
    frames = np.full((fps, 64, 64), 40, np.uint8)
    frames[round(FLASH_S * fps) :] = 220
    samples = np.zeros(RATE_HZ)
    at = round(FLASH_S * RATE_HZ)
    samples[at : at + 24] = 0.8 * np.exp(-np.arange(24) / 6)  # 0.5 ms
    sound = write_wave(path.with_suffix(".wav"), samples)
    video = ("-c:v", "libx264", "-preset", "fast", "-bf", "2" if b_frames else "0")
    return encode_luma(path, frames, "-i", sound, *video, *args, fps=fps)


def write_wave(path: Path, samples: NDArray[np.float64], rate_hz: int = RATE_HZ) -> Path:
    """16-bit sound of full scale 1; (n,) mono or (n, channels)."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1 if samples.ndim == 1 else samples.shape[1])
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes((samples * 32767).astype("<i2").tobytes())
    return path
