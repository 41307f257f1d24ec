"""The real clips that are scored, and whether pictures cut from them may be published."""

from dataclasses import dataclass
from pathlib import Path

LABELS = Path(__file__).resolve().parents[2] / "tests" / "footage_labels"


@dataclass(frozen=True, slots=True)
class FootageClip:
    """A clip of the footage folder."""

    path: str  # below the footage folder
    credit: str  # licence and origin
    publish: bool = False  # whether its pictures may be shown in the project

    @property
    def name(self) -> str:
        """The name that its labels and its sheet bear."""
        return Path(self.path).stem

    @property
    def labels(self) -> Path:
        """Where its labels lie."""
        return LABELS / f"{self.name}.csv"


MECAVIDEO = "CC BY-SA 3.0, Debian python3-mecavideo"
EXOPLAYER = "Apache-2.0, google/ExoPlayer"
WITH_BALL = (
    FootageClip("toss/phone_drop_120fps_rot90.mp4", "MIT, oliverius/gravity"),
    FootageClip("toss/tennis_drop_100fps_rotated.mp4", MECAVIDEO, publish=True),
    FootageClip("toss/classroom_toss_stick_vp9.avi", MECAVIDEO, publish=True),
    FootageClip("toss/yard_bike_drop_g1.avi", MECAVIDEO, publish=True),
    FootageClip("toss/yard_bike_drop_g2.avi", MECAVIDEO, publish=True),
)
# Looked through by eye: no ball in any of them, but heads, hands, feet, lamps, and in the last four a moving camera.
WITHOUT_BALL = (
    FootageClip("fields/vtest_12s.avi", "Debian opencv-doc"),
    FootageClip("fields/indoor_woodfloor_person_40s.mp4", "CC BY 4.0, intel-iot-devkit/sample-videos"),
    FootageClip("containers/exo_sample_fragmented.mp4", EXOPLAYER),
    FootageClip("fields/handheld_skyline_360p.mp4", EXOPLAYER),
    FootageClip("containers/exo_video_desks.3gp", EXOPLAYER),
    FootageClip("containers/exo_video_1.mp4", EXOPLAYER),
    FootageClip("containers/exo_sample_sef_slow_motion.mp4", EXOPLAYER),
)
