"""Leaves that move in the wind: the tree band of the picture, shifted by parts of a pixel."""

import cv2
import numpy as np

from .arrays import Image
from .brush import Window
from .textures import sample, tile


class Sway:
    """Shifts of the leafy rows of a picture over time."""

    def __init__(self, seed: int, leaves: Image, amplitude_px: float) -> None:
        rows = np.flatnonzero(leaves.max(axis=1) > 0.05)
        self.top, self.bottom = (int(rows[0]), int(rows[-1]) + 1) if len(rows) and amplitude_px > 0 else (0, 0)
        band = np.asarray(leaves[self.top : self.bottom], np.float32) * np.float32(amplitude_px)
        y, x = np.mgrid[self.top : self.bottom, 0 : leaves.shape[1]].astype(np.float32)
        noise = tile(seed + 12, 3.0)
        self.grid_x, self.grid_y = x, y - np.float32(self.top)
        self.waves = [band * sample(noise, x * 0.12 + 200 * k, y * 0.12) for k in range(4)]
        self.shifted = np.empty((self.bottom - self.top, leaves.shape[1], 3), np.float32)
        self.map_x, self.map_y = np.empty_like(x), np.empty_like(x)

    def set_time(self, time_s: float) -> None:
        """Where each leafy pixel comes from at this moment."""
        gust = 0.6 + 0.4 * np.sin(2 * np.pi * 0.23 * time_s + 1.0)
        a, b = (
            np.float32(gust * np.sin(2 * np.pi * 1.3 * time_s)),
            np.float32(gust * np.cos(2 * np.pi * 2.1 * time_s)),
        )
        np.add(self.grid_x, a * self.waves[0] + b * self.waves[1], out=self.map_x)
        np.add(self.grid_y, np.float32(0.6) * (b * self.waves[2] + a * self.waves[3]), out=self.map_y)

    def apply(self, still: Image, out: Image) -> None:
        """Write the shifted band of a whole picture to ``out``."""
        if self.bottom > self.top:
            cv2.remap(
                still[self.top : self.bottom], self.map_x, self.map_y, cv2.INTER_LINEAR, dst=self.shifted,
                borderMode=cv2.BORDER_REPLICATE,
            )  # fmt: skip
            out[self.top : self.bottom] = self.shifted

    def part(self, still: Image, window: Window) -> Image:
        """A window of the picture with its leaves shifted; a copy."""
        top, bottom, left, right = window
        part = np.array(still[top:bottom, left:right])
        a, b = max(top, self.top), min(bottom, self.bottom)
        if b > a:
            rows = slice(a - self.top, b - self.top)
            part[a - top : b - top] = cv2.remap(
                still[self.top : self.bottom], np.ascontiguousarray(self.map_x[rows, left:right]),
                np.ascontiguousarray(self.map_y[rows, left:right]), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
            )  # fmt: skip
        return part
