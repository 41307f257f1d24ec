"""What is known of the lens before the marks are looked at, from the best source at hand."""

from pathlib import Path
from typing import NamedTuple

from balltrack.camera.marks import LensPrior
from balltrack.errors import LessonError, VideoError
from balltrack.lesson.folder import find_clips
from balltrack.lesson.lens import Lens
from balltrack.lesson.lens_mode import Mode, mode_of
from balltrack.lesson.lens_store import any_kept, kept_lens, other_modes
from balltrack.video.clip import ClipInfo, probe

# A 35 mm equivalent compares diagonals (CIPA DCG-001, from memory): 43.27 mm on film. A phone's sensor is 4:3 and films
# over its full width, 0.8 of its diagonal; so the longer side of the picture counts as 34.61 mm.
LONGER_SIDE_MM = 0.8 * 43.267
# Published fields of view of phones' video (55.7 to 69.7 degrees) differ from their 35 mm equivalents (from memory) by
# 2 to 11 %, 7 % root mean square: modes crop differently, and a stabiliser crops by a tenth or so.
TAG_SD_SHARE = 0.07


class LensChoice(NamedTuple):
    """What is known, and where it comes from, in words for a person."""

    prior: LensPrior
    words: str
    kept: bool = False  # a calibration that this machine keeps, which lesson.toml does not tell


class FilmedBy(NamedTuple):
    """The calibrated phone that films a lesson, in the mode of its clips."""

    prior: LensPrior
    size_px: tuple[int, int]  # width, height of its upright picture
    mode: Mode
    words: str  # lens: this phone's own calibration of …


def filmed_by(folder: Path, stated: Lens) -> FilmedBy | None:
    """What is kept of the phone that filmed the first readable clip of a folder; None where nothing is, or no clip.

    Raises LessonError where the kept calibration is damaged.
    """
    try:
        clips = find_clips(folder, {})[0] if any_kept() else ()
    except LessonError:
        return None  # nothing is filmed yet
    for clip in clips:
        try:
            info = probe(clip.path)
            choice = best_lens(stated, info, info.size_px)
        except VideoError:
            continue  # it says so when it is measured
        return FilmedBy(choice.prior, info.size_px, mode_of(info), choice.words) if choice.kept else None
    return None


def best_lens(stated: Lens, info: ClipInfo | None, size_px: tuple[int, int]) -> LensChoice:
    """The lens as stated in lesson.toml; else as this phone was calibrated; else as its clips tell; else any phone's.

    Parameters
    ----------
    stated : Lens
        From the lesson.
    info : ClipInfo or None
        Of a clip of the lesson, filmed as the others are; None where there is none.
    size_px : (int, int)
        Width and height of the upright picture.

    Raises
    ------
    LessonError
        If the kept calibration is damaged.
    VideoError
        If the clip can no longer be opened.
    """
    if stated.horizontal_fov_deg is not None:
        return LensChoice(stated.prior(size_px[0]), f"lens: as stated{_other_size(stated, size_px)}")
    plain = stated.prior(size_px[0])
    if info is None or info.size_px != size_px:
        return LensChoice(plain, "lens: from the marks alone")
    mode = mode_of(info)
    kept = kept_lens(mode)
    if kept is not None:
        words = f"lens: this phone's own calibration of {kept.table.date:%Y-%m-%d} ({kept.table.phone}, {mode.words})"
        return LensChoice(kept.prior(info), words, kept=True)
    hint = "; a calibration of this phone is kept, but not for " + mode.words if other_modes(mode.phone) else ""
    if mode.phone.focal_35mm is None:
        return LensChoice(plain, f"lens: from the marks alone{hint}")
    focal_px = mode.phone.focal_35mm * max(size_px) / LONGER_SIDE_MM
    words = (
        f"lens: from the clip's own word ({mode.phone.focal_35mm:g} mm on 35 mm film), good to "
        f"{100 * TAG_SD_SHARE:.0f} % as video modes crop, and the marks{hint}"
    )
    return LensChoice(LensPrior(focal_px, TAG_SD_SHARE * focal_px, plain.k1, plain.k1_sd), words)


def _other_size(stated: Lens, size_px: tuple[int, int]) -> str:
    if stated.image_size_px is None or stated.image_size_px == size_px:
        return ""
    (width, height), (w, h) = stated.image_size_px, size_px
    return f", but calibrated on pictures of {width} x {height} while these are {w} x {h}: a mode may crop differently"
