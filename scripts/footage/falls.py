"""The real clips in which a ball falls: where a person pointed at it, and what is known of ball, rate and lens."""

from dataclasses import dataclass, replace
from pathlib import Path

from footage.fall import Seen, Start, follow_fall
from footage.gravity import Known, Pull, flights_of, pull_of


@dataclass(frozen=True, slots=True)
class Fall:
    """A ball's falls in one clip."""

    path: str  # below the footage folder
    start: Start
    known: Known
    doubts: str  # where the known comes from

    def flights(self, path: Path) -> list[Seen]:
        """The stretches of free flight, as the package follows them."""
        return flights_of(follow_fall(path, self.start))

    def with_second(self, second_s: float) -> "Fall":
        """The same, were a second of the file so many real ones."""
        return replace(self, known=replace(self.known, second_s=second_s))

    def pull(self, flights: list[Seen]) -> Pull:
        """Gravity from these flights."""
        return pull_of(flights, self.known)


TENNIS = Fall(
    "toss/tennis_drop_100fps_rotated.mp4",
    Start(6, ((130.0, 370.0), (135.0, 369.0)), 26.0, step=2),
    # 1.2 kg/m³ x 0.55 x 35 cm² over twice 57.7 g.
    Known((720, 576), ball_m=0.067, ball_sd=0.015, lens_deg=55.0, drag_pm=0.020, second_s=0.25),
    "6.54 to 6.86 cm and 56 to 59.4 g by the rules of the game, drag coefficient 0.55 (both from memory); 0.01 s a "
    "frame is written in the picture, 0.04 s in the container",
)
TOSS = Fall(
    "toss/classroom_toss_stick_vp9.avi",
    Start(8, ((96.0, 106.0), (99.0, 96.0)), 12.5, step=4),
    Known((320, 240), ball_m=0.065, ball_sd=0.15, lens_deg=55.0, drag_pm=0.010),
    "the ball's size is not known: beside the hand that holds it, 5 to 8 cm",
)
PHONE = Fall(
    "toss/phone_drop_120fps_rot90.mp4",
    Start(130, ((32.0, 111.0), (33.0, 124.0)), 25.0, step=2),
    # Drag: such a ball of 20 to 60 g.
    Known((172, 1716), ball_m=0.04, ball_sd=0.03, lens_deg=56.0, drag_pm=0.010, drop=(118 / 120, 201 / 120, 2.32)),
    "4 cm and a drop of 2.32 m from frame 118 to frame 201, by eye to 3 %",
)
FALLS = (TENNIS, TOSS, PHONE)
