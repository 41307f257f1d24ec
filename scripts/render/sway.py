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

    def set_time(self, time_s: float, flow: tuple[Image, Image] | None = None) -> None:
        """Where each pixel comes from at this moment; ``flow`` says it for a shaken camera: columns, rows."""
        top, bottom = self.band
        maps = self.still_maps
        if flow is not None:
            self.map_x, self.map_y = flow
            self.rows, self.way = (0, len(self.map_x)), cv2.INTER_CUBIC
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
        cv2.remap(still.y, self.map_x, self.map_y, self.way, dst=out.y[rows], borderMode=cv2.BORDER_REFLECT)
        for plane, moved in ((still.u, out.u[half]), (still.v, out.v[half])):
            cv2.remap(plane, half_x, half_y, cv2.INTER_LINEAR, dst=moved, borderMode=cv2.BORDER_REFLECT)

    def part(self, still: Image, window: Window, out: Image, crisp: bool = True) -> None:
        """Write a window of a still layer, shifted, to ``out``; one out of focus need not be ``crisp``."""
        top, bottom, left, right = window
        a, b = max(top, self.rows[0]), min(bottom, self.rows[1])
        if a > top or b < bottom:
            np.copyto(out, still[top:bottom, left:right])
        if b > a:
            rows = slice(a - self.rows[0], b - self.rows[0])
            cv2.remap(
                still, self.map_x[rows, left:right], self.map_y[rows, left:right],
                self.way if crisp else cv2.INTER_LINEAR, dst=out[a - top : b - top], borderMode=cv2.BORDER_REFLECT,
            )  # fmt: skip
