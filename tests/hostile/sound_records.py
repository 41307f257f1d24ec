"""The files of a measured lesson, sound: two swings, flown without the package, and a person's word."""

from dataclasses import replace
from pathlib import Path

import numpy as np
from damaged.breakage import Named

from balltrack.camera.marks import Mark
from balltrack.camera.solve import SolvedCamera
from balltrack.flight.evidence import Setting
from balltrack.flight.fit import fit_flight
from balltrack.records.basis_file import basis_path, write_bases
from balltrack.records.camera_file import write_camera
from balltrack.records.corrections import NO_CORRECTIONS, Corrections, write_corrections
from balltrack.records.describe import Label
from balltrack.records.drawings import Drawing, DrawnStill, write_drawings
from balltrack.records.hand import HandRow
from balltrack.records.refit import Basis, Ground, Stood, settle_clip
from balltrack.records.store import ResultStore
from balltrack.records.verdict import Verdict
from balltrack.track.ball import BallTrack
from tests.flight.simulated import SET_UPS, Filming, swing
from tests.records.swings import HIT, LOST, MISS

CLIP = "clips/01-tee/001.mp4"
FRAME_S = 1 / 60


def setting() -> Setting:
    """Of the lesson that they are of."""
    return swing(np.random.default_rng(1), Filming(SET_UPS["45 degrees"])).setting


def write_records(results: Path) -> tuple[Named, ...]:
    """Write them into a folder; all of them, by name."""
    made = swing(np.random.default_rng(1), Filming(SET_UPS["45 degrees"]))
    camera, ground = made.setting.camera, Ground(made.setting, None, "right")
    track = _short(made.track)
    fit = fit_flight(track, made.contact, made.setting)
    label = Label("01-tee/001#1", CLIP, "01-tee", "abc123", made.contact.time_s)
    hit = Basis(label, made.contact, camera, FRAME_S, track, fit, None)
    lost = replace(hit, label=replace(label, swing="01-tee/001#2"), track=_short(track, 0), fit=None, ballless=LOST)
    settled = settle_clip([hit, lost], NO_CORRECTIONS, ground)
    stood = Stood(camera, FRAME_S, "abc123", "motion")
    write_bases(results / basis_path(CLIP), [hit, lost], settled, stood)
    store = ResultStore(results, [CLIP])
    store.write_clip(CLIP, [MISS, HIT, LOST], [("01-tee/001#1", track)])
    mark = Mark("plate_tip", (0.0, 0.0, 0.0), (600.0, 900.0))
    write_camera(results / "camera.json", SolvedCamera(camera, np.zeros((1, 2)), (), ("a word",), 0.7), [mark])
    row = HandRow(0, 1.05, (700.0, 500.0), 14.0)
    said = Verdict(swing="01-tee/001#1", near_s=made.contact.time_s, excluded="slipped")
    write_corrections(results, CLIP, Corrections((row,), (said,)))
    line = Drawing("line", ((10.0, 10.0), (20.0, 30.0)))
    still = DrawnStill(swing="01-tee/001#1", clip=CLIP, time_s=1.0, view_px=(0, 0, 64, 64), marks=(line,))
    write_drawings(results, [still])
    return tuple(Named(path.name, path.read_bytes()) for path in sorted(results.rglob("*")) if path.is_file())


def _short(track: BallTrack, count: int = 8) -> BallTrack:
    """The first rows: a small file breaks in more of its places."""
    arrays = ("time_s", "centre_px", "centre_sd_px", "diameter_px", "diameter_sd_px", "used", "source", "reason")
    return replace(track, **{name: getattr(track, name)[:count] for name in arrays})
