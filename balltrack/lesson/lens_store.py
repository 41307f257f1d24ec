"""Calibrations that this machine keeps, one file for each phone, lens, frame size and frame rate."""

import datetime
import json
import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from balltrack.camera.marks import LensPrior
from balltrack.camera.model import fov_of_focal_rad
from balltrack.errors import LessonError
from balltrack.lesson.lens import focal_share
from balltrack.lesson.lens_mode import Mode
from balltrack.lesson.lesson_toml import KeptLensTable, TomlFile
from balltrack.video.clip import ClipInfo
from balltrack.video.orientation import Orientation
from balltrack.video.phone import Phone, read_phone

if TYPE_CHECKING:
    from balltrack.lesson.lens_film import FilmedLens  # loads what finds boards

TOLD_SDS = 1.645  # 90 in 100 lie within; what people read as ±


@dataclass(frozen=True, slots=True)
class KeptLens:
    """A calibration as kept, and its file's name without the ending, by which a person calls it."""

    name: str
    table: KeptLensTable

    @property
    def words(self) -> str:
        """One line for a person."""
        kept, (width, height) = self.table, self.table.size_px
        fov_deg = math.degrees(fov_of_focal_rad(kept.focal_px, max(width, height)))
        return (
            f"{kept.phone}, {width} x {height} at {kept.frames_per_s} frames/s: {fov_deg:.1f} degrees along the longer "
            f"side, focal length to {100 * kept.focal_sd_px / kept.focal_px:.1f} %, {kept.date:%Y-%m-%d}"
        )

    def prior(self, info: ClipInfo) -> LensPrior:
        """The same for the upright picture of a clip of this phone and mode."""
        return self._prior(info.orientation)

    def _prior(self, orientation: Orientation) -> LensPrior:
        kept, size = self.table, (self.table.size_px[0], self.table.size_px[1])
        u, v = orientation.upright_points(np.array([kept.centre_px], dtype=float), size)[0].tolist()
        return LensPrior(kept.focal_px, kept.focal_sd_px, kept.k1, kept.k1_sd, kept.centre_sd_px, (u, v))


def lens_folder() -> Path:
    """Where calibrations lie, there or not: in the person's data folder."""
    from platformdirs import user_data_path

    return user_data_path("balltrack", appauthor=False) / "lenses"


def keep(filmed: "FilmedLens", name: str | None, today: datetime.date) -> KeptLens:
    """Write a calibration into the person's data folder, in place of an older one of the same phone and mode.

    ``name`` stands for the phone where its clips do not name it.

    Raises
    ------
    LessonError
        If neither the clip nor ``name`` names the phone, or the file cannot be written.
    """
    mode, lens = filmed.mode, filmed.calibration
    phone = _named(mode.phone, name)
    file = lens_folder() / f"{_file_name(phone, '' if name else mode.phone.lens, mode)}.toml"
    entries = {
        "phone": phone,
        "lens": "" if name else mode.phone.lens,
        "date": today,
        "frames_per_s": mode.frames_per_s,
        "size_px": list(lens.size_px),
        "focal_px": round(lens.focal_px, 2),
        "focal_sd_px": round(lens.focal_sd_px, 2),
        "k1": round(lens.k1, 5),
        "k1_sd": round(lens.k1_sd, 5),
        "centre_px": [round(each, 2) for each in lens.centre_px],
        "centre_sd_px": round(lens.centre_sd_px, 2),
        "rms_px": round(lens.rms_px, 3),
        "views": lens.views,
        "distance_m": round(lens.distance_m, 3),
        "focus_locked": filmed.focus_locked,
    }
    text = "".join(f"{key} = {_toml(value)}\n" for key, value in entries.items())
    _write(file, f"# A phone's lens, from a film of a board. Written by balltrack lens film.\n{text}")
    return _read(file)


def words_of(filmed: "FilmedLens", kept: KeptLens) -> str:
    """What came of a film, for a person."""
    lens, share = filmed.calibration, filmed.calibration.focal_sd_px / filmed.calibration.focal_px
    lines = [
        f"The board was seen in {filmed.seen} of {filmed.looks} frames looked at; {lens.views} unlike views were used. "
        f"Corners miss by {lens.rms_px:.2f} px, the board was {lens.distance_m:.2f} m away.",
        f"{kept.words}; k1 {lens.k1:+.4f} ± {TOLD_SDS * lens.k1_sd:.4f}.",
    ]
    if not filmed.focus_locked and lens.views_sd_px < 0.5 * lens.focal_sd_px:
        alone = 100 * lens.views_sd_px / lens.focal_px
        lines.append(
            f"Most of these {100 * share:.1f} % is focus (the views alone: {alone:.2f} %): lock it as on the field, "
            "film the board from farther off, and say --focus-locked."
        )
    if filmed.mode.phone.name.strip() and kept.table.phone == filmed.mode.phone.name.strip():
        lines.append(f"Kept as {kept.name}: clips of this phone in this mode use it by themselves.")
    else:
        lines.append(f"Kept as {kept.name}. For a lesson of this phone: balltrack lens use {kept.name} LESSON_DIR")
    return "\n".join(lines)


def check_named(path: Path, name: str | None) -> None:
    """Raise a LessonError where neither the clip nor ``name`` names the phone: before the work, not after."""
    _named(read_phone(path), name)


def _named(phone: Phone, name: str | None) -> str:
    told = (name or phone.name).strip()
    if not told:
        raise LessonError("the clip does not say which phone filmed it; give the phone a name with --name")
    return told


def kept_lens(mode: Mode) -> KeptLens | None:
    """The calibration of a phone in a mode; None where none is kept or the phone is not known.

    Raises
    ------
    LessonError
        If the file is damaged.
    """
    phone = mode.phone.name.strip()
    if not phone:
        return None
    file = lens_folder() / f"{_file_name(phone, mode.phone.lens, mode)}.toml"
    return _read(file) if file.is_file() else None


def kept_lenses() -> list[KeptLens]:
    """All that are kept, by name. Raises LessonError where one is damaged."""
    return [_read(file) for file in sorted(lens_folder().glob("*.toml"))]


def any_kept() -> bool:
    """Whether this machine keeps a calibration at all."""
    return any(lens_folder().glob("*.toml"))


def other_modes(phone: Phone) -> list[KeptLens]:
    """What is kept of a phone, in whatever mode; damaged files are passed over."""
    found = []
    for file in sorted(lens_folder().glob(f"{_slug(phone.name)}_*.toml")) if phone.name.strip() else []:
        try:
            found.append(_read(file))
        except LessonError:
            continue  # it is another mode's, and is named when that is asked for
    return found


def lens_toml(kept: KeptLens, orientation: Orientation) -> str:
    """The text of a lens.toml for clips that are turned upright so."""
    prior = kept._prior(orientation)
    size = orientation.size_px((kept.table.size_px[0], kept.table.size_px[1]))
    focal_px, focal_sd_px, centre_px = kept.table.focal_px, kept.table.focal_sd_px, prior.centre_px or (0.0, 0.0)
    fov_rad = fov_of_focal_rad(focal_px, size[0])
    entries = {
        "horizontal_fov_deg": round(math.degrees(fov_rad), 3),
        "horizontal_fov_sd_pct": round(100 * focal_sd_px / focal_px / focal_share(fov_rad, 1.0), 4),
        "k1": prior.k1,
        "k1_sd": prior.k1_sd,
        "image_size_px": list(size),
        "centre_px": [round(each, 2) for each in centre_px],
        "centre_sd_px": prior.centre_sd_px,
    }
    text = "".join(f"{key} = {_toml(value)}\n" for key, value in entries.items())
    return f"# {kept.words}\n{text}"


def _read(file: Path) -> KeptLens:
    try:
        return KeptLens(file.stem, TomlFile(file).parse(KeptLensTable))
    except LessonError as error:
        line = str(error).splitlines()[0]
        raise LessonError(f"the calibration kept in {file} is damaged ({line}); delete it and calibrate anew") from None


def _write(file: Path, text: str) -> None:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        part = file.with_suffix(".part")
        part.write_text(text, encoding="utf-8")
        part.replace(file)
    except OSError as error:
        raise LessonError(f"{file} cannot be written: {error.strerror or error}") from None


def _file_name(phone: str, lens: str, mode: Mode) -> str:
    words = [_slug(phone), *([_slug(lens)] if lens else [])]
    return "_".join([*words, f"{mode.size_px[0]}x{mode.size_px[1]}", f"{mode.frames_per_s}fps"])


def _slug(words: str) -> str:
    """Letters, digits and dashes, as every file system takes them."""
    return re.sub(r"[^a-z0-9.]+", "-", words.casefold()).strip("-.")[:60] or "phone"


def _toml(value: object) -> str:
    return value.isoformat() if isinstance(value, datetime.date) else json.dumps(value, ensure_ascii=True)
