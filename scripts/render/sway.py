"""What moves the still picture by parts of a pixel: leaves in the wind, and the hand that holds the phone."""

import cv2
import numpy as np

from .arrays import Image
from .brush import Window
from .sensor import Planes
from .textures import sample, tile


class Sway:
    """Shifts of a picture over time: of its leafy rows, or of all of it where a hand shakes it."""

    def __init__(self, seed: int, leaves: Image, amplitude_px: float) -> None:
        rows = np.flatnonzero(leaves.max(axis=1) > 0.05)
        leafy = len(rows) > 0 and amplitude_px > 0
        top, bottom = (int(rows[0]) // 2 * 2, (int(rows[-1]) + 2) // 2 * 2) if leafy else (0, 0)
        self.band, self.rows = (top, bottom), (top, bottom)
        strength = np.asarray(leaves[top:bottom], np.float32) * np.float32(amplitude_px)
        y, x = np.mgrid[top:bottom, 0 : leaves.shape[1]].astype(np.float32)
        noise = tile(seed + 12, 3.0)
        self.waves = [strength * sample(noise, x * 0.12 + 200 * k, y * 0.12) for k in range(4)]
        self.still_maps = (x, y)
        self.map_x, self.map_y = x.copy(), y.copy()
        self.way = cv2.INTER_LINEAR

    def set_time(self, time_s: float, flow: Image | None = None) -> None:
        """Where each pixel comes from at this moment; ``flow`` (h, w, 2) says it for a shaken camera."""
        top, bottom = self.band
        maps = self.still_maps
        if flow is not None:
            self.map_x, self.map_y = cv2.extractChannel(flow, 0), cv2.extractChannel(flow, 1)
            self.rows, self.way = (0, len(flow)), cv2.INTER_CUBIC
            maps = (self.map_x[top:bottom], self.map_y[top:bottom])
        if bottom == top:
            return
        gust = 0.6 + 0.4 * np.sin(2 * np.pi * 0.23 * time_s + 1.0)
        a, b = float(gust * np.sin(2 * np.pi * 1.3 * time_s)), float(gust * np.cos(2 * np.pi * 2.1 * time_s))
        shift_x = cv2.addWeighted(self.waves[0], a, self.waves[1], b, 0.0)
        shift_y = cv2.addWeighted(self.waves[2], 0.6 * b, self.waves[3], 0.6 * a, 0.0)
        first = top - self.rows[0]
        np.add(maps[0], shift_x, out=self.map_x[first : first + bottom - top])
        np.add(maps[1], shift_y, out=self.map_y[first : first + bottom - top])

    def apply(self, still: Planes, out: Planes) -> None:
        """Write the shifted rows of a whole picture to ``out``."""
        top, bottom = self.rows
        if bottom == top:
            return
        half_x, half_y = 0.5 * self.map_x[::2, ::2], 0.5 * self.map_y[::2, ::2]
        rows, half = slice(top, bottom), slice(top // 2, bottom // 2)
        self._remap(still.y, self.map_x, self.map_y, out.y[rows])
        self._remap(still.u, half_x, half_y, out.u[half])
        self._remap(still.v, half_x, half_y, out.v[half])

    def _remap(self, plane: Image, map_x: Image, map_y: Image, out: Image) -> None:
        cv2.remap(plane, map_x, map_y, self.way, dst=out, borderMode=cv2.BORDER_REFLECT)

    def part(self, still: Image, window: Window, out: Image) -> None:
        """Write a window of the still light, shifted, to ``out``."""
        top, bottom, left, right = window
        a, b = max(top, self.rows[0]), min(bottom, self.rows[1])
        if a > top or b < bottom:
            np.copyto(out, still[top:bottom, left:right])
        if b > a:
            rows = slice(a - self.rows[0], b - self.rows[0])
            cv2.remap(
                still, self.map_x[rows, left:right], self.map_y[rows, left:right], self.way, dst=out[a - top : b - top],
                borderMode=cv2.BORDER_REFLECT,
            )  # fmt: skip
