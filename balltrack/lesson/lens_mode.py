"""What must be alike for two clips to share a lens."""

from dataclasses import dataclass

from balltrack.video.clip import ClipInfo
from balltrack.video.phone import Phone, rate_class, read_phone


@dataclass(frozen=True, slots=True)
class Mode:
    """What must be alike for two clips to share a lens: phone, size as stored, and frames per real second."""

    phone: Phone
    size_px: tuple[int, int]  # width, height as stored, before rotation
    frames_per_s: int

    @property
    def words(self) -> str:
        return f"{self.size_px[0]} x {self.size_px[1]} at {self.frames_per_s} frames/s"


def mode_of(info: ClipInfo) -> Mode:
    """The phone and mode of a clip. Raises VideoError where it cannot be opened."""
    return Mode(read_phone(info.path), info.stored_size_px, rate_class(info.nominal_fps))
