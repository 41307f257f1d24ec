"""The ball's path, drawn into a clip as the ball flies: a line where it was seen, dots where it is calculated."""

from dataclasses import dataclass

import numpy as np

from balltrack.camera.model import apparent_diameter_px, project_parameters
from balltrack.review.filmed import FilmedSwing, SeenFlight
from balltrack.review.sheet import Framing, Sheet, dots, evenly, line, line_px, ring
from balltrack.units import Floats

STEP_S = 1 / 240
RING = 1.5  # ball widths
REACH = 0.3  # of the picture: a path that is so far outside does not come back
DOT_GAP = 5.0  # widths of the line
UNSEEN_S = 0.1  # a shorter part is hardly drawn before the ball is out of the picture
SAME_S = 1e-3  # the last row seen is in the picture that shows it


@dataclass(frozen=True, slots=True, eq=False)
class DrawnPath:
    """A flight in a clip's picture, at even times since contact."""

    since_s: Floats  # (n,)
    pixels: Floats  # (n, 2) of the clip's picture
    row_delay_s: Floats  # (n,) after the picture's time stamp, at which that row is exposed
    width_px: Floats  # (n,) of the ball
    last_seen_s: float

    @property
    def goes_on_unseen(self) -> bool:
        """Whether a part is drawn in which the ball was not seen, as in a net, or far off."""
        return len(self.since_s) > 0 and float(self.since_s[-1]) > self.last_seen_s + UNSEEN_S

    def flown(self, stamp_s: float) -> tuple[Floats, Floats, float]:
        """What is flown in a picture whose time stamp is ``stamp_s`` after contact, its tip where the ball is.

        Returns
        -------
        (k,) seconds since contact, (k, 2) pixels, and the ball's width at the tip [px]; k is 0 before contact.
        """
        stamps_s = self.since_s - self.row_delay_s  # rows are exposed one after the other
        count = int(np.sum(stamps_s <= stamp_s))
        if count in (0, len(stamps_s)):  # not begun, or out of sight
            return self.since_s[:count], self.pixels[:count], float(self.width_px[count - 1]) if count else 0.0
        part = (stamp_s - stamps_s[count - 1]) / (stamps_s[count] - stamps_s[count - 1])
        since_s, pixels, width_px = (
            before + part * (after - before)
            for before, after in ((each[count - 1], each[count]) for each in (self.since_s, self.pixels, self.width_px))
        )
        return (
            np.append(self.since_s[:count], since_s),
            np.vstack([self.pixels[:count], pixels]),
            float(width_px),
        )


NO_PATH = DrawnPath(np.zeros(0), np.zeros((0, 2)), np.zeros(0), np.zeros(0), 0.0)


def drawn_path(filmed: FilmedSwing) -> DrawnPath:
    """The path from contact to the ground or the rim of the picture; nothing where no flight is known."""
    if filmed.flight is None:
        return NO_PATH
    flight, (width, height) = filmed.flight, filmed.camera.size_px
    filmed_s = float(filmed.times_s[-1]) - filmed.contact_s + filmed.camera.readout_s
    since_s = np.arange(0.0, max(min(float(flight.path.time_s[-1]), filmed_s), 0.0) + STEP_S, STEP_S)
    places_m = flight.path.at(since_s[None])[0]
    pixels = project_parameters(places_m, flight.camera_parameters)
    rows = np.clip(np.nan_to_num(pixels[:, 1], nan=height / 2), 0, height)
    near = (np.abs(pixels / [width, height] - 0.5) < 0.5 + REACH).all(axis=1) & (places_m[:, 2] > 0)  # NaN is not
    count = len(near) if near.all() else int(np.argmin(near))
    return DrawnPath(
        since_s[:count],
        pixels[:count],
        filmed.camera.readout_s * rows[:count] / height,
        _widths_px(flight, places_m[:count], filmed),
        flight.last_seen_s,
    )


def _widths_px(flight: SeenFlight, places_m: Floats, filmed: FilmedSwing) -> Floats:
    return apparent_diameter_px(places_m, flight.camera_parameters, filmed.ball_diameter_m)


def draw_path(sheet: Sheet, path: DrawnPath, stamp_s: float, framing: Framing) -> None:
    """Draw what is flown in the picture ``stamp_s`` after contact, and a ring round the ball while it was seen."""
    since_s, pixels, width_px = path.flown(stamp_s)
    if not len(since_s):
        return
    shown = framing.shown(pixels)
    seen = int(np.sum(since_s <= path.last_seen_s + SAME_S))
    if seen < len(since_s):
        gap_px = DOT_GAP * line_px(sheet)
        line(sheet, shown[:seen])
        dots(sheet, evenly(shown[max(seen - 1, 0) :], gap_px)[1:])
        return
    radius = max(RING * width_px / 2 * framing.scale, 3 * line_px(sheet))
    outside = np.hypot(*(shown - shown[-1]).T) > radius  # the line ends at the ring: the ball stays to be seen
    line(sheet, shown[outside])
    ring(sheet, shown[-1], radius)
