"""What truly happened in a rendered lesson, read back from the files beside its clips."""

import csv
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from balltrack.units import Floats

# A ball less of which is to be seen is hidden by something. Threads before the lens take up to a fifth of every ball
# and hide none.
LEAST_VISIBLE, LEAST_VISIBLE_VEILED = 0.9, 0.7


@dataclass(frozen=True, slots=True, eq=False)
class TruthRows:
    """The ball in every frame that shows it."""

    pts_s: Floats  # (n,) the frame's own timestamp
    time_s: Floats  # (n,) mid-exposure of the ball's row
    centre_px: Floats  # (n, 2)
    diameter_px: Floats  # (n,)
    visible: Floats  # (n,) share of the ball that nothing hides
    inside: NDArray[np.bool_]  # (n,) the whole ball lies in the picture
    streak_px: Floats  # (n,) length by which motion draws the ball out while the shutter is open
    contrast: Floats  # (n,) luma of the ball against what is round it, in codes of 255
    phase: NDArray[np.str_]  # (n,) rest, pitch, flight, tip, bounce
    least_visible: float = LEAST_VISIBLE

    @property
    def clear_flight(self) -> NDArray[np.bool_]:
        """(n,) frames in which the batted ball flies, whole and unhidden."""
        return np.asarray((self.phase == "flight") & (self.visible > self.least_visible) & self.inside)

    @property
    def blur(self) -> Floats:
        """(n,) streak in diameters of the ball."""
        return self.streak_px / self.diameter_px


@dataclass(frozen=True, slots=True, eq=False)
class TruthSwing:
    """One swing as it was."""

    clip: str  # clips/01-tee/swing-01.mp4
    delivery: str
    outcome: str  # hit | miss | foul_tip | checked
    contact_s: float
    fields: dict[str, Any]  # the line of truth/swings.jsonl
    rows: TruthRows

    @property
    def hit(self) -> bool:
        """Whether there is a flight to be measured."""
        return self.outcome == "hit"


@dataclass(frozen=True, slots=True, eq=False)
class TrueCamera:
    """The phone that filmed."""

    parameters: Floats  # (11,) in the package's order
    exposure_s: float


def read_camera(folder: Path) -> TrueCamera:
    """truth/camera.json of a rendered lesson, in the package's order of parameters."""
    camera = json.loads((folder / "truth" / "camera.json").read_text())
    lens = (camera["focal_px"], camera["k1"], *camera["principal_px"], camera["readout_s"])
    return TrueCamera(np.array([*camera["rotation_vector"], *camera["position_m"], *lens]), camera["exposure_s"])


def read_truth(folder: Path) -> list[TruthSwing]:
    """All swings of a rendered lesson; its renderer puts one in a clip."""
    camera = json.loads((folder / "truth" / "camera.json").read_text())
    out = []
    for line in (folder / "truth" / "swings.jsonl").read_text().splitlines():
        fields = json.loads(line)
        name = Path(fields["clip"])
        rows = read_rows(folder / "truth" / "tracks" / name.with_suffix(".csv"), camera)
        out.append(
            TruthSwing(f"clips/{name}", fields["delivery"], fields["outcome"], fields["contact_s"], fields, rows)
        )
    return out


def read_rows(path: Path, camera: dict[str, Any]) -> TruthRows:
    """One clip's rows. Row r is exposed from pts + readout r / height on; the times written are mid-exposure."""
    with path.open(newline="") as file:
        cells = list(csv.DictReader(file))
    numbers = {
        name: np.array([float(row[name]) for row in cells])
        for name in ("time_s", "u_px", "v_px", "diameter_px", "visible", "streak_px", "contrast")
    }
    width, height = camera["size_px"]
    u, v, time_s = numbers["u_px"], numbers["v_px"], numbers["time_s"]
    radius = numbers["diameter_px"] / 2
    inside = (u >= radius) & (v >= radius) & (u <= width - 1 - radius) & (v <= height - 1 - radius)
    return TruthRows(
        pts_s=time_s - camera["exposure_s"] / 2 - camera["readout_s"] * np.clip(v, 0, height) / height,
        time_s=time_s,
        centre_px=np.stack([u, v], axis=1),
        diameter_px=numbers["diameter_px"],
        visible=numbers["visible"],
        inside=inside,
        streak_px=numbers["streak_px"],
        contrast=numbers["contrast"],
        phase=np.array([row["phase"] for row in cells], dtype=np.str_),
        least_visible=LEAST_VISIBLE_VEILED if _veiled(camera["scene"]) else LEAST_VISIBLE,
    )


def _veiled(scene: dict[str, Any]) -> bool:
    """Whether the phone looks through threads."""
    return bool(scene["veil"] != "none" or scene["venue"] == "cage")
