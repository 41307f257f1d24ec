"""What each swing of a clip was measured from, as a file: with it, a correction needs no second look at the clip.

``results/tracks/<block>/<clip>.basis.json`` stands beside the clip's track. The program writes it, in full precision,
so that a flight fitted anew is the one that measuring again would give. NaN is null.
"""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

import numpy as np

from balltrack.camera.model import Camera
from balltrack.errors import RecordError
from balltrack.flight.evidence import ContactPrior
from balltrack.flight.fit import FlightFit
from balltrack.records.atomic import write_atomic
from balltrack.records.describe import Label
from balltrack.records.refit import Basis, Flight, Settled, Stood
from balltrack.records.store import track_path
from balltrack.records.swing import from_json, to_json
from balltrack.track.ball import BallTrack
from balltrack.units import Floats

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
        content = json.loads(path.read_text(encoding="utf-8"))
        found, stood = content["swings"], content.get("stood")
        bases = tuple(_read_basis(each["basis"]) for each in found)
        settled = tuple(
            Settled(from_json(each["swing"]), basis.track, each["flight"] and _read_flight(each["flight"]))
            for each, basis in zip(found, bases, strict=True)
        )
        how = stood and _read_stood(stood)
    except FileNotFoundError:
        raise RecordError(f"{path} is missing: what the swings were measured from; {MEASURE_AGAIN}") from None
    except (OSError, ValueError, KeyError, TypeError, RecordError) as error:
        raise RecordError(f"{path} cannot be read ({error}); {MEASURE_AGAIN}") from None
    return bases, settled, how


def read_made(path: Path) -> Made | None:
    """What is said in such a file of what it comes from; None where nothing is, or there is no readable file."""
    try:
        made = json.loads(path.read_text(encoding="utf-8"))["made"]
        return made and Made(**made)
    except (OSError, ValueError, KeyError, TypeError):
        return None


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


def _read_stood(found: dict[str, Any]) -> Stood:
    return Stood(**found | {"camera": _read_camera(found["camera"])})


def _read_camera(found: dict[str, Any]) -> Camera:
    return Camera(_array(found["parameters"]), _array(found["covariance"]), tuple(found["size_px"]))


def _read_basis(found: dict[str, Any]) -> Basis:
    plain = ("source", "reason", "exposure_s")
    track = {name: value if name in plain else _array(value) for name, value in found["track"].items()}
    track |= {name: tuple(track[name]) for name in ("source", "reason")}
    track |= {name: track[name].reshape(-1, 2) for name in ("centre_px", "centre_sd_px")}
    return Basis(
        label=_read_label(found["label"]),
        contact=_read_contact(found["contact"]),
        camera=_read_camera(found["camera"]),
        frame_s=found["frame_s"],
        track=BallTrack(**track | {"used": track["used"].astype(np.bool_)}),
        fit=found["fit"] and _read_fit(found["fit"]),
        ballless=found["ballless"] and from_json(found["ballless"]),
        added=found.get("added", False),
    )


def _flight(flight: Flight) -> dict[str, Any]:
    return {
        "label": asdict(flight.label),
        "fit": _plain(flight.fit),
        "contact": _plain(flight.contact),
        "warnings": flight.warnings,
    }


def _read_flight(found: dict[str, Any]) -> Flight:
    return Flight(
        _read_label(found["label"]),
        _read_fit(found["fit"]),
        _read_contact(found["contact"]),
        tuple(found["warnings"]),
    )


def _read_label(found: dict[str, Any]) -> Label:
    return Label(**found | {"by_hand": tuple(found["by_hand"])})


def _read_contact(found: dict[str, Any]) -> ContactPrior:
    places = {name: _array(found[name]) for name in ("position_m", "position_sd_m")}
    pixel = found["pixel_px"]
    return ContactPrior(**found | places | {"pixel_px": None if pixel is None else _array(pixel)})


def _read_fit(found: dict[str, Any]) -> FlightFit:
    arrays = {name: _array(value) for name, value in found.items() if isinstance(value, list)}
    arrays["outlier"] = arrays["outlier"].astype(np.bool_)
    return FlightFit(**found | arrays | {"predicted_px": arrays["predicted_px"].reshape(-1, 2)})


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


def _array(value: Any) -> Floats:
    return np.array(value, dtype=np.float64)
