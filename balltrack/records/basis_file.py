"""What each swing of a clip was measured from, as a file: with it, a correction needs no second look at the clip.

``results/tracks/<block>/<clip>.basis.json`` stands beside the clip's track. The program writes it, in full precision,
so that a flight fitted anew is the one that measuring again would give. NaN is null.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any, cast, get_args

import numpy as np

from balltrack.camera.model import PARAMETERS, Camera
from balltrack.errors import RecordError
from balltrack.flight.evidence import FLIGHT, ContactPrior
from balltrack.flight.fit import FlightFit
from balltrack.flight.pitch import Known, PitchNumbers
from balltrack.plain_file import read_plain
from balltrack.records.atomic import write_atomic
from balltrack.records.describe import Label
from balltrack.records.refit import Basis, Flight, Settled, Stood
from balltrack.records.shaped import (
    DAMAGED,
    array,
    covariance,
    flag,
    maybe_number,
    measured,
    number,
    rows,
    table,
    whole,
    word,
    words,
)
from balltrack.records.store import track_path
from balltrack.records.swing import Ended, from_json, to_json
from balltrack.track.ball import BallTrack

MEASURE_AGAIN = "measure the lesson again: balltrack measure"


@dataclass(frozen=True, slots=True)
class Made:
    """What the results of a clip come from, by hash, and what was said of it: while the first stays, all of it holds.

    It stands in the file of the bases, so that both are there or neither is, whenever a run is killed.
    """

    content: str  # of the video file
    setup: str  # what all clips share: settings, camera, first still, network, program
    corrections: str  # by hand
    problem: str = ""  # why the clip has no result; empty where it has one
    note: str = ""
    found_by: dict[str, int] = field(default_factory=dict)  # positions used in flights, by what found them


def basis_path(clip: str) -> Path:
    """``clips/01-tee/001.mp4`` -> ``tracks/01-tee/001.basis.json``, inside the results folder."""
    return track_path(clip).with_suffix(".basis.json")


def write_bases(
    path: Path,
    bases: Sequence[Basis],
    settled: Sequence[Settled],
    stood: Stood | None,
    made: Made | None = None,
) -> None:
    """Write what the swings of a clip were measured from, and the flights that came of it, each fitted alone.

    ``stood`` is None for a clip that could not be measured; ``made`` where it is not to be relied on when the lesson
    is measured again.
    """
    swings = [
        {"basis": _basis(basis), "flight": each.flight and _flight(each.flight), "swing": to_json(each.swing)}
        for basis, each in zip(bases, settled, strict=True)
    ]
    content = {"made": made and asdict(made), "stood": stood and _stood(stood), "swings": swings}
    write_atomic(path, json.dumps(content, ensure_ascii=False, allow_nan=False) + "\n")


def read_bases(path: Path) -> tuple[tuple[Basis, ...], tuple[Settled, ...], Stood | None]:
    """Read them back; the swings are as each flight alone gives them. Files of before do not tell how the phone stood.

    Raises
    ------
    RecordError
        If there is no such file, or it cannot be read.
    """
    try:
        content = table(json.loads(read_plain(path)))
        found, stood = rows(content["swings"]), content.get("stood")
        bases = tuple(_read_basis(table(each["basis"])) for each in found)
        settled = tuple(
            Settled(from_json(word(each["swing"])), basis.track, each["flight"] and _read_flight(table(each["flight"])))
            for each, basis in zip(found, bases, strict=True)
        )
        how = stood and _read_stood(table(stood))
    except FileNotFoundError:
        raise RecordError(f"{path} is missing: what the swings were measured from; {MEASURE_AGAIN}") from None
    except (*DAMAGED, RecordError) as error:
        raise RecordError(f"{path} cannot be read ({error}); {MEASURE_AGAIN}") from None
    return bases, settled, how


def read_made(path: Path) -> Made | None:
    """What is said in such a file of what it comes from; None where nothing is, or there is no readable file."""
    try:
        made = table(json.loads(read_plain(path)))["made"]
        return made and _read_made(table(made))
    except DAMAGED:
        return None


def _read_made(found: Mapping[str, Any]) -> Made:
    texts = {name: word(found[name]) for name in ("content", "setup", "corrections", "problem", "note")}
    return Made(**texts, found_by={word(by): whole(count) for by, count in table(found["found_by"]).items()})


def _basis(basis: Basis) -> dict[str, Any]:
    return {
        "label": asdict(basis.label),
        "contact": _plain(basis.contact),
        "camera": _plain(basis.camera),
        "frame_s": basis.frame_s,
        "track": _plain(basis.track),
        "fit": basis.fit and _plain(basis.fit),
        "ballless": basis.ballless and to_json(basis.ballless),
        "added": basis.added,
    }


def _stood(stood: Stood) -> dict[str, Any]:
    return _plain(stood) | {"camera": _plain(stood.camera)}


def _read_stood(found: Mapping[str, Any]) -> Stood:
    camera, frame_s = _read_camera(table(found["camera"])), number(found["frame_s"])
    return Stood(camera, frame_s, word(found["settings_hash"]), word(found["detector"]))


def _read_camera(found: Mapping[str, Any]) -> Camera:
    width, height = (whole(each) for each in rows(found["size_px"]))
    count = len(PARAMETERS)
    return Camera(measured(found["parameters"], count), covariance(found["covariance"], count), (width, height))


def _read_basis(found: Mapping[str, Any]) -> Basis:
    track, fit, none = _read_track(table(found["track"])), found["fit"], found["ballless"]
    return Basis(
        label=_read_label(table(found["label"])),
        contact=_read_contact(table(found["contact"])),
        camera=_read_camera(table(found["camera"])),
        frame_s=number(found["frame_s"]),
        track=track,
        fit=fit and _read_fit(table(fit), len(track.time_s)),
        ballless=none and from_json(word(none)),
        added=flag(found.get("added", False)),
    )


def _read_track(found: Mapping[str, Any]) -> BallTrack:
    time_s = array(found["time_s"], -1)
    count = len(time_s)
    source, reason = words(found["source"]), words(found["reason"])
    if not len(source) == len(reason) == count:
        raise ValueError(f"a track of {count} rows has {len(source)} sources and {len(reason)} reasons")
    return BallTrack(
        time_s=time_s,
        centre_px=array(found["centre_px"], count, 2),
        centre_sd_px=array(found["centre_sd_px"], count, 2),
        diameter_px=array(found["diameter_px"], count),
        diameter_sd_px=array(found["diameter_sd_px"], count),
        used=array(found["used"], count).astype(np.bool_),
        source=source,
        reason=reason,
        exposure_s=maybe_number(found.get("exposure_s")),
    )


def _flight(flight: Flight) -> dict[str, Any]:
    return {
        "label": asdict(flight.label),
        "fit": _plain(flight.fit),
        "contact": _plain(flight.contact),
        "warnings": flight.warnings,
    }


def _read_flight(found: Mapping[str, Any]) -> Flight:
    return Flight(
        _read_label(table(found["label"])),
        _read_fit(table(found["fit"])),
        _read_contact(table(found["contact"])),
        words(found["warnings"]),
    )


def _read_label(found: Mapping[str, Any]) -> Label:
    texts = {name: word(found[name]) for name in ("swing", "clip", "block", "settings_hash")}
    texts |= {name: word(found[name]) for name in ("detector", "excluded") if name in found}
    seen_s, exposure_s = maybe_number(found["contact_s"]), maybe_number(found.get("exposure_s"))
    pitch, ended = found.get("pitch"), found.get("ended")
    return Label(
        **texts,
        contact_s=seen_s,
        by_hand=words(found["by_hand"]),
        exposure_s=exposure_s,
        pitch=None if pitch is None else _read_pitch(table(pitch)),
        ended=None if ended is None else _read_ended(word(ended)),
    )


def _read_ended(said: str) -> Ended:
    if said not in get_args(Ended):
        raise ValueError(f"no swing ends as {said[:40]!r}")
    return cast(Ended, said)


def _read_pitch(found: Mapping[str, Any]) -> PitchNumbers:
    names = [each.name for each in fields(PitchNumbers) if each.name not in ("frames", "first_s")]
    known = {name: None if found[name] is None else _read_known(found[name]) for name in names}
    return PitchNumbers(frames=whole(found["frames"]), first_s=number(found["first_s"]), **known)


def _read_known(value: object) -> Known:
    mean, sd = (number(each) for each in rows(value))
    return mean, sd


def _read_contact(found: Mapping[str, Any]) -> ContactPrior:
    pixel = found["pixel_px"]
    return ContactPrior(
        time_s=number(found["time_s"]),
        time_sd_s=number(found["time_sd_s"]),
        position_m=measured(found["position_m"], 3),
        position_sd_m=measured(found["position_sd_m"], 3),
        pixel_px=None if pixel is None else measured(pixel, 2),
        pixel_sd_px=number(found["pixel_sd_px"]),
        diameter_px=maybe_number(found["diameter_px"]),
        diameter_sd_px=number(found["diameter_sd_px"]),
    )


def _read_fit(found: Mapping[str, Any], count: int = -1) -> FlightFit:
    """``count``: rows of its track, -1 where that is not at hand."""
    parameters = measured(found["parameters"], -1)
    outlier = array(found["outlier"], count)
    if len(parameters) < FLIGHT:
        raise ValueError(f"a flight has {len(parameters)} parameters; {FLIGHT} are least")
    return FlightFit(
        parameters=parameters,
        parameter_covariance=covariance(found["parameter_covariance"], len(parameters)),
        camera_parameters=measured(found["camera_parameters"], len(PARAMETERS)),
        predicted_px=array(found["predicted_px"], len(outlier), 2),
        outlier=outlier.astype(np.bool_),
        rows_used=whole(found["rows_used"]),
        residual_px=number(found["residual_px"]),
        chi2_per_dof=number(found["chi2_per_dof"]),
    )


def _plain(record: Any) -> dict[str, Any]:
    """The fields of a dataclass of numbers, words and arrays as JSON has them."""
    return {each.name: _value(getattr(record, each.name)) for each in fields(record)}


def _value(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        if value.dtype == np.bool_:
            return value.astype(int).tolist()
        plain = value.astype(object)
        plain[~np.isfinite(value)] = None
        return plain.tolist()
    return value.item() if isinstance(value, np.generic) else value

