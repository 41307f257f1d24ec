"""What `balltrack check` says, in a coach's words; clips of which the same is to be said stand together."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack.check.expect import PLACE_M, Prospect
from balltrack.check.judge import Fitness, Remark
from balltrack.check.look import Look
from balltrack.planning.advice import accuracy, length
from balltrack.records.table import SPEED, Units
from balltrack.records.wording import NINE_IN_TEN

CODECS = {
    "h264": "H.264",
    "hevc": "HEVC",
    "av1": "AV1",
    "libdav1d": "AV1",
    "vp9": "VP9",
    "vp8": "VP8",
    "mpeg4": "MPEG-4",
    "h263": "H.263",
    "mpeg2video": "MPEG-2",
}
PACKED = {"mov": "MP4 or QuickTime", "matroska": "Matroska or WebM", "avi": "AVI", "mpegts": "transport stream"}
CURVES = {18: "high dynamic range (HLG)", 16: "high dynamic range (PQ)"}


@dataclass(frozen=True, slots=True, eq=False)
class Checked:
    """One file, and what came of looking at it."""

    path: Path
    fitness: Fitness
    remarks: tuple[Remark, ...]
    look: Look | None = None  # None: it cannot be read
    prospect: Prospect | None = None


def words_of(checked: Sequence[Checked], ignored: Sequence[str], units: Units) -> str:
    """All of it, in the order of the files."""
    groups: dict[str, list[Checked]] = {}
    for each in checked:
        groups.setdefault("\n".join(_lines(each, units)), []).append(each)
    parts = [f"{_names(alike)}\n{text}" for text, alike in groups.items()]
    if ignored:
        parts.append("Left out:\n" + "\n".join(f"  {line}" for line in ignored))
    return "\n\n".join([*parts, _summary(checked)])


def _lines(each: Checked, units: Units) -> Iterable[str]:
    if each.look is not None:
        yield f"  {_what(each.look)}"
    yield f"  {each.fitness.value}"
    if each.prospect is not None and each.fitness is not Fitness.UNFIT:
        yield f"  Expect at best {_expected(each.prospect, units)}"
    if each.remarks:
        yield "  Know:"
        yield from (f"    - {remark.what}" for remark in each.remarks)
    instead = dict.fromkeys(remark.instead for remark in each.remarks if remark.instead)
    if instead:
        yield "  Next time:"
        yield from (f"    - {line}" for line in instead)


def _expected(prospect: Prospect, units: Units) -> str:
    speed = SPEED[units]
    lamps = NINE_IN_TEN * prospect.lamps.exit_speed_sd_mps / speed.si_per_unit
    return (
        f"{accuracy(prospect.sun, units)} in sunshine; exit speed ±{lamps:.1f} {speed.unit} under lamps\n"
        f"    (nine in ten; {length(float(-PLACE_M[1]), units)} straight behind the plate, plate and boxes marked)"
    )


def _what(look: Look) -> str:
    info = look.info
    width, height = info.size_px
    codec = CODECS.get(info.codec, info.codec)
    parts = [
        f"{width} x {height}",
        f"{info.nominal_fps:.0f} frames a second",
        f"{codec}{' of 10 bits' if info.bit_depth == 10 else ''} in {PACKED.get(info.container, info.container)}",
        "sound" if look.heard else "no sound",
    ]
    if info.colours.transfer in CURVES:
        parts.insert(3, CURVES[info.colours.transfer])
    if info.rotation_deg or info.mirrored:
        turn = f"turned by {info.rotation_deg}°" if info.rotation_deg else ""
        parts.append(" and ".join(filter(None, (turn, "mirrored" if info.mirrored else ""))) + " as its tag says")
    if look.phone:
        parts.append(f"filmed by {look.phone}")
    return ", ".join(parts)


def _names(alike: Sequence[Checked]) -> str:
    """The files, at most three by name, and how long they are."""
    names = [f"{each.path.parent.name}/{each.path.name}" if each.path.parent.name else str(each.path) for each in alike]
    lengths_s = [each.look.info.duration_s for each in alike if each.look is not None]
    long = ""
    if lengths_s:
        short, most = f"{min(lengths_s):.1f}", f"{max(lengths_s):.1f}"
        long = f" ({short} s)" if short == most else f" ({short} to {most} s)"
    if len(names) <= 3:
        return f"{', '.join(names)}{long}"
    return f"{names[0]}, {names[1]} … {names[-1]}: {len(names)} clips alike{long}"


def _summary(checked: Sequence[Checked]) -> str:
    fit = sum(each.fitness is not Fitness.UNFIT for each in checked)
    return f"{fit} of {len(checked)} {'clip is' if len(checked) == 1 else 'clips are'} fit to measure."
