"""Writes a whole lesson: clips, lesson.toml as a person would enter it, and the truth beside it."""

import json
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from .arrays import Floats
from .brush import lay
from .cast import Cast
from .diamond import named_points
from .film import Sighting, Studio
from .hand import knocked
from .limb_paint import lay_limbs, limb_paint_of
from .optics import Optics, project
from .play import OUTCOMES, PLATE_M, Play, chain, tee_place
from .scene_spec import SceneSpec, diamond_of
from .shadow import shadow_patch
from .standing import camera_of
from .sun import sun_of
from .things import props
from .world import Backdrop, paint_backdrop


@dataclass(frozen=True, slots=True)
class Take:
    """One clip to be made."""

    index: int
    block: str
    delivery: str
    name: str
    outcome: str  # of the last of several swings: hit | miss | foul_tip | checked
    swings: int = 1

    @property
    def hit(self) -> bool:
        """Whether the last swing hits."""
        return self.outcome == "hit"


def takes_of(
    spec: SceneSpec, clips: int, deliveries: tuple[str, ...], misses: tuple[int, ...], swings: int = 1,
    others: dict[int, str] | None = None,
) -> list[Take]:  # fmt: skip
    """Share the clips among blocks in their order.

    ``misses`` are clip numbers (from 0) where the bat, at last, meets air; ``swings`` is how many a clip holds;
    ``others`` gives further clips' last outcome by number.
    """
    outcomes = dict.fromkeys(misses, "miss") | (others or {})
    wrong = sorted(set(outcomes.values()) - set(OUTCOMES))
    if wrong:
        raise ValueError(f"no such outcome: {', '.join(wrong)}; there are {', '.join(OUTCOMES)}")
    if not deliveries or clips < 1:
        raise ValueError(f"a lesson needs a clip and a delivery; got {clips} clips, deliveries {deliveries}")
    each = -(-clips // len(deliveries))
    out = []
    for index in range(clips):
        number = min(index // each, len(deliveries) - 1)
        name = f"swing-{index + 1:02d}.{spec.container}"
        block = f"{number + 1:02d}-{deliveries[number]}"
        out.append(Take(index, block, deliveries[number], name, outcomes.get(index, "hit"), swings))
    return out


def make_lesson(folder: Path, spec: SceneSpec, takes: list[Take], workers: int = 1) -> None:
    """Render a lesson into ``folder``."""
    optics = camera_of(spec)
    deliveries = tuple(sorted({take.delivery for take in takes}))
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "truth").mkdir(exist_ok=True)
    write_lesson_toml(folder, spec, optics, takes)
    write_camera(folder, spec, optics, takes)
    stages = stages_of(spec, optics, takes)
    with tempfile.TemporaryDirectory() as spare:
        for stage in stages:
            backdrop = still_scene(spec, stage.optics, deliveries)
            np.save(stage.at(Path(spare), "light"), backdrop.light)
            np.save(stage.at(Path(spare), "leaves"), backdrop.leaves)
        jobs = [
            (folder, spec, [stage.share(part, workers) for stage in stages], Path(spare)) for part in range(workers)
        ]
        if workers == 1:
            rows = _film_some(*jobs[0])
        else:
            # Forked workers would inherit OpenCV's locked threads.
            with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
                parts = [pool.submit(_film_some, *job) for job in jobs]
                rows = [row for part in parts for row in part.result()]
    rows.sort(key=lambda row: row[0])
    (folder / "truth" / "swings.jsonl").write_text("".join(line + "\n" for _, line in rows))


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """Clips that one standing camera films."""

    number: int
    optics: Optics
    takes: tuple[Take, ...]

    def share(self, part: int, parts: int) -> "Stage":
        """One worker's share."""
        return Stage(self.number, self.optics, self.takes[part::parts])

    def at(self, folder: Path, what: str) -> Path:
        """Where a part of the still scene is kept."""
        return folder / f"{what}-{self.number}.npy"


def stages_of(spec: SceneSpec, optics: Optics, takes: list[Take]) -> list[Stage]:
    """The clips before and after the knock; one stage without it."""
    if spec.bump_px <= 0:
        return [Stage(0, optics, tuple(takes))]
    before = tuple(take for take in takes if take.index < spec.bump_from)
    after = tuple(take for take in takes if take.index >= spec.bump_from)
    both = [Stage(0, optics, before), Stage(1, knocked(spec, optics), after)]
    return [stage for stage in both if stage.takes]


def still_scene(spec: SceneSpec, optics: Optics, deliveries: tuple[str, ...]) -> Backdrop:
    """The backdrop with the things that stand on it."""
    sun = sun_of(spec)
    backdrop = paint_backdrop(spec, optics, sun)
    things = props(spec, deliveries)
    for limb in things:
        shade = shadow_patch([limb], sun, optics)
        if shade is not None:
            lay(backdrop.light, shade)
    lay_limbs(backdrop.light, things, limb_paint_of(spec, optics, sun))
    return backdrop


def _film_some(folder: Path, spec: SceneSpec, stages: list[Stage], spare: Path) -> list[tuple[int, str]]:
    import cv2

    cv2.setNumThreads(1)
    return [row for stage in stages if stage.takes for row in _film_stage(folder, spec, stage, spare)]


def _film_stage(folder: Path, spec: SceneSpec, stage: Stage, spare: Path) -> list[tuple[int, str]]:
    light, leaves = (np.load(stage.at(spare, what), mmap_mode="r") for what in ("light", "leaves"))
    studio, cast = Studio(spec, stage.optics, Backdrop(light, leaves)), Cast(spec)
    out = []
    for take in stage.takes:
        outcomes = ("hit",) * (take.swings - 1) + (take.outcome,) * min(take.swings, 1)
        plays = chain(spec, take.delivery, take.index, outcomes)
        path = folder / "clips" / take.block / take.name
        path.parent.mkdir(parents=True, exist_ok=True)
        seen = studio.film(plays, cast, take.index, path)
        write_track(folder, take, seen)
        if take.swings:
            out += [(take.index, json.dumps(swing_truth(spec, take, play))) for play in plays]
    return out


def swing_truth(spec: SceneSpec, take: Take, play: Play) -> dict[str, object]:
    """One line of truth/swings.jsonl."""
    base: dict[str, object] = {"clip": f"{take.block}/{take.name}", "block": take.block, "delivery": take.delivery}
    base |= {"outcome": play.outcome, "contact_s": play.start_s + play.contact_s}
    if not play.hit:
        return base
    velocity = play.velocity
    speed = float(np.linalg.norm(velocity))
    return base | {
        "contact_m": play.contact_m.tolist(),
        "velocity_mps": velocity.tolist(),
        "exit_speed_mps": speed,
        "launch_deg": float(np.degrees(np.arctan2(velocity[2], np.hypot(velocity[0], velocity[1])))),
        "spray_deg": float(np.degrees(np.arctan2(velocity[0], velocity[1]))),
        "contact_depth_m": float(play.contact_m[1] - PLATE_M),
        "spin_radps": play.spin.tolist(),
        "drag": {"law": spec.drag, "level": spec.drag_level},
        "lift": {"law": spec.lift},
        "air_density_kgm3": spec.air_density,
        "wind_mps": list(spec.wind_mps),
        "carry_m": play.carry_m,
        "landing_m": play.landing_m.tolist(),
        "hang_s": play.hang_s,
        "apex_m": play.apex_m,
        "tail_m": play.tail_m,
        "flight_ends_s": next((play.start_s + p.start_s for p in play.pieces if p.phase == "bounce"), None),
    }


def write_track(folder: Path, take: Take, seen: list[Sighting]) -> None:
    """truth/tracks/<block>/<clip>.csv, a row for each frame with the ball."""
    path = folder / "truth" / "tracks" / take.block / (Path(take.name).stem + ".csv")
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = ["time_s,u_px,v_px,diameter_px,visible,streak_px,phase,contrast"]
    lines += [
        f"{s.time_s:.6f},{s.u_px:.3f},{s.v_px:.3f},{s.diameter_px:.3f},{s.visible:.3f},{s.streak_px:.2f},{s.phase},"
        f"{s.contrast:.1f}"
        for s in seen
    ]
    path.write_text("\n".join(lines) + "\n")


def write_camera(folder: Path, spec: SceneSpec, optics: Optics, takes: list[Take]) -> None:
    """truth/camera.json: the camera, how to read the truth, and every choice of the scene."""
    angle = _rotation_vector(optics.rotation)
    truth = {
        "convention": (
            "row r is exposed from pts + readout_s * r / height for exposure_s; time_s in tracks is the middle of "
            "that; diameter_px is that of the circle with the area of the ball's outline; landing_m is where the "
            "ball's centre is one radius above the ground; carry_m is its distance from the plate's tip; apex_m is "
            "above the ground; clip times are real times, also where slow motion is stored stretched; contrast is the "
            "mean change of the luma code (0..255) that the ball makes where it is seen; pixels in tracks are those of "
            "the frame as it is, hand shake and knock included; the camera here, and the marks in lesson.toml, are "
            "from before the knock and without hand shake; after it, the camera is as knock says"
        ),
        "size_px": list(optics.size_px),
        "fps": spec.fps,
        "focal_px": optics.focal_px,
        "principal_px": list(optics.principal_px),
        "horizontal_fov_deg": optics.hfov_deg,
        "k1": optics.k1,
        "rotation_field_to_camera": optics.rotation.tolist(),
        "rotation_vector": angle.tolist(),
        "position_m": optics.position_m.tolist(),
        "readout_s": optics.readout_s,
        "exposure_s": optics.exposure_s,
        "mark_sd_px": spec.mark_sd_px,
        "focal_sd": spec.focal_sd,
        "knock": _knock(spec, optics, takes),
        "scene": asdict(spec),
    }
    (folder / "truth" / "camera.json").write_text(json.dumps(truth, indent=1) + "\n")


def _knock(spec: SceneSpec, optics: Optics, takes: list[Take]) -> dict[str, object] | None:
    """From which clip on the camera is turned otherwise, and how; None where it stays."""
    after = [take for take in takes if take.index >= spec.bump_from]
    if spec.bump_px <= 0 or not after:
        return None
    turned = knocked(spec, optics)
    return {
        "first_clip": f"{after[0].block}/{after[0].name}",
        "clips": [f"{take.block}/{take.name}" for take in after],
        "rotation_field_to_camera": turned.rotation.tolist(),
        "rotation_vector": _rotation_vector(turned.rotation).tolist(),
    }


def _rotation_vector(rotation: Floats) -> Floats:
    from scipy.spatial.transform import Rotation

    return np.asarray(Rotation.from_matrix(rotation).as_rotvec())


def visible_marks(spec: SceneSpec, optics: Optics, live: bool) -> dict[str, Floats]:
    """True pixels of the named points that lie in the picture."""
    width, height = optics.size_px
    out = {}
    for name, point in named_points(diamond_of(spec)).items():
        if live and name == "pitchers_plate_front":
            continue  # the screen stands before it
        if spec.venue != "field" and not ("_box_" in name or name.startswith("plate_")):
            continue  # a floor indoors shows plate and boxes only
        pixel = project(point[None], optics)[0]
        if np.isfinite(pixel).all() and 3 < pixel[0] < width - 4 and 3 < pixel[1] < height - 4:
            out[name] = pixel
    return out


def write_lesson_toml(folder: Path, spec: SceneSpec, optics: Optics, takes: list[Take]) -> None:
    """lesson.toml with marks as a careful person sets them."""
    rng = np.random.default_rng([spec.seed, 70])
    d = diamond_of(spec)
    feet = 1 / 0.3048
    lines = [
        "[player]",
        f'name = "{spec.player}"',
        f'bats = "{spec.bats}"',
        "",
        "[ball]",
        f'kind = "{spec.ball_kind}"',
        "",
    ]
    lines += ["[field]", f"base_path_ft = {d.base_path_m * feet:.0f}"]
    if spec.venue == "field":
        lines += [f"fence_ft = {d.fence_m * feet:.1f}", "fence_height_ft = 6"]
    if spec.venue != "cage":  # balls are tossed from a cage's end, not pitched
        lines += [f"pitching_distance_ft = {d.pitching_m * feet:.1f}"]
    lines += [""]
    lines += ["[camera]"]
    if spec.give_fov:
        focal = optics.focal_px * (1.0 + rng.normal(0, spec.focal_sd) if spec.focal_sd > 0 else 1.0)
        lines.append(f"horizontal_fov_deg = {np.degrees(2 * np.arctan(optics.size_px[0] / 2 / focal)):.2f}")
    if spec.give_readout:
        lines.append(f"readout_ms = {1000 * optics.readout_s * rng.normal(1.0, 0.03):.1f}")
    marks = visible_marks(spec, optics, any(take.delivery == "live" for take in takes))
    for name, pixel in marks.items():
        u, v = pixel + rng.normal(0, spec.mark_sd_px, 2)
        lines += ["", "[[camera.marks]]", f'point = "{name}"', f"pixel = [{u:.1f}, {v:.1f}]"]
    if spec.mark_tee and any(take.delivery == "tee" for take in takes):
        foot = tee_place(spec)
        u, v = project(foot[None], optics)[0] + rng.normal(0, spec.mark_sd_px, 2)
        lines += ["", "[[camera.marks]]", 'point = "tee_base"', f"pixel = [{u:.1f}, {v:.1f}]"]
    for block in sorted({take.block for take in takes}):
        delivery = next(take.delivery for take in takes if take.block == block)
        lines += ["", f'[blocks."{block}"]', f'delivery = "{delivery}"']
    (folder / "lesson.toml").write_text("\n".join(lines) + "\n")
