"""From linear light to the camera's 8-bit picture: tone curve and noise."""

import numpy as np

from .arrays import Bytes, Image

STEPS = 4096
TOP = 1.6  # linear light beyond this is white


class Sensor:
    """Tone curve, and noise drawn from a pool: shot noise grows with light, read noise does not."""

    def __init__(self, seed: int, size_px: tuple[int, int], noise: float) -> None:
        light = np.linspace(0.0, TOP, STEPS)
        bright = 1.25 * light  # what a phone's metering gives a field
        pressed = np.where(bright < 0.5, bright, 1.0 - 0.5 * np.exp(-2.0 * (bright - 0.5)))  # a soft shoulder
        code = np.where(
            pressed <= 0.0031308, 12.92 * pressed, 1.055 * pressed ** (1 / 2.4) - 0.055
        )  # sRGB, IEC 61966-2-1
        self.tone = (255.0 * code).astype(np.float32)
        slope = np.gradient(self.tone, light)
        spread = noise * np.sqrt(6e-6 + 1.1e-4 * light) * slope
        self.spread = np.clip(spread, 0.3, 9.0).astype(np.float32)
        rng = np.random.default_rng([seed, 5])
        width, height = size_px
        pool = rng.standard_normal((height + 64, width + 64, 3), np.float32)
        luma = pool.mean(axis=2, keepdims=True) * np.sqrt(3.0, dtype=np.float32)
        self.pool = np.asarray(0.75 * luma + 0.45 * pool, np.float32)

        self.mixed = np.empty(
            (height, width, 3), np.float32
        )  # reused: fresh memory for each frame costs more than the sums

    def develop(self, light: Image) -> tuple[Image, Image]:
        """Codes (0..255, float) and noise sd of linear light (h, w, 3)."""
        index = np.clip(light * np.float32((STEPS - 1) / TOP), 0, STEPS - 1).astype(np.int32)
        return self.tone[index], self.spread[index[..., 1]][..., None]

    def noisy(self, code: Image, spread: Image, rng: np.random.Generator, out: Bytes) -> None:
        """Write the 8-bit picture of codes with noise to ``out``."""
        top, left = int(rng.integers(0, 64)), int(rng.integers(0, 64))
        grain = self.pool[top : top + code.shape[0], left : left + code.shape[1]]
        mixed = self.mixed
        np.multiply(grain, spread, out=mixed)
        if rng.random() < 0.5:
            np.subtract(code, mixed, out=mixed)
        else:
            np.add(code, mixed, out=mixed)
        np.add(mixed, np.float32(0.5), out=mixed)
        np.clip(mixed, 0, 255, out=mixed)
        np.copyto(out, mixed, casting="unsafe")
