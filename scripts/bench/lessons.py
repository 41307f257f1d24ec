"""The lessons of a benchmark: spread evenly over the set-ups, drawn afresh from a seed, rendered once and kept."""

import hashlib
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from render.lesson import Take, make_lesson
from render.scene_spec import SceneSpec, draw

ROOT = Path(__file__).resolve().parents[2]
RENDERER = ROOT / "scripts" / "render"
CACHE = ROOT / "bench_cache"

PLACES = ("behind", "left45", "side", "right45")
RATES = (30.0, 60.0, 120.0, 240.0)
BALLS = ("softball-12", "softball-11", "baseball")
DELIVERIES = ("tee", "toss", "live")
# Short clips, since rendering takes most of the time: before and after contact at most, by whether it is slow motion.
LEAD_S, TAIL_S = {False: 0.8, True: 0.55}, {False: 1.2, True: 0.9}
SLOW_MOTION_FPS = 100.0
MOST_LINES = 1080  # a picture of 2160 lines takes four times as long to render
DAYLIGHT = "overcast"  # in place of dusk, where the targets hold
MARK_SD_PX, FOCAL_SD = 0.7, 0.003  # the careful coach that the targets are set for


@dataclass(frozen=True, slots=True)
class BenchLesson:
    """One lesson to be rendered and measured."""

    number: int  # from 1
    spec: SceneSpec
    takes: tuple[Take, ...]

    @property
    def title(self) -> str:
        """The set-up in a few words."""
        s = self.spec
        return f"{s.place} {s.fps:.0f}/s {s.ball_kind} {s.lines}p {s.light}{' net' if s.net else ''}"


def lessons(seed: int, count: int, hard: bool = False) -> list[BenchLesson]:
    """``count`` lessons. Any 12 in a row hold each place with each ball once, and three of the four frame rates each.

    Everything else (colours, lens, codec, sound, wind, drag law, ...) is the renderer's draw; ``hard`` leaves it dusk,
    and nets between phone, ball and field, too.
    """
    rng = np.random.default_rng(seed)
    places, rates, balls = rng.permutation(PLACES), rng.permutation(RATES), rng.permutation(BALLS)
    start = int(rng.integers(len(DELIVERIES)))
    out = []
    for k in range(count):
        fps = float(rates[(k + k // 4) % 4])
        slow = fps > SLOW_MOTION_FPS
        chosen: dict[str, Any] = {
            "place": str(places[k % 4]), "fps": fps, "ball_kind": str(balls[k % 3]),
            "mark_sd_px": MARK_SD_PX, "focal_sd": FOCAL_SD, "lead_s": LEAD_S[slow], "tail_s": TAIL_S[slow],
        }  # fmt: skip
        spec_seed = int(rng.integers(2**31))
        spec = draw(spec_seed, **chosen)
        if spec.lines > MOST_LINES:
            chosen["lines"] = MOST_LINES
        if not hard:
            chosen |= {"net": False, "light": DAYLIGHT if spec.light == "dusk" else spec.light}
        spec = draw(spec_seed, **chosen)
        out.append(BenchLesson(k + 1, spec, _takes(spec, start + k, rng)))
    return out


def _takes(spec: SceneSpec, turn: int, rng: np.random.Generator) -> tuple[Take, ...]:
    """A hit of each delivery, one more where frames are few, and a miss, both of another delivery lesson by lesson."""
    hits = DELIVERIES if spec.fps > SLOW_MOTION_FPS else (*DELIVERIES, DELIVERIES[turn % 3])
    planned = [(kind, True) for kind in hits] + [(DELIVERIES[(turn + 1) % 3], False)]
    planned = [planned[k] for k in rng.permutation(len(planned))]
    planned.sort(key=lambda pair: DELIVERIES.index(pair[0]))
    return tuple(
        Take(
            k,
            f"{DELIVERIES.index(kind) + 1:02d}-{kind}",
            kind,
            f"swing-{k + 1:02d}.{spec.container}",
            "hit" if hit else "miss",
        )
        for k, (kind, hit) in enumerate(planned)
    )


def renderer_version() -> str:
    """Changes whenever a line of the renderer does: 12 hex digits."""
    digest = hashlib.sha256()
    for path in sorted(RENDERER.glob("*.py")):
        digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()[:12]


def rendered(lesson: BenchLesson, cache: Path = CACHE) -> Path:
    """The lesson's folder, rendered if this renderer has not done so before. An interrupted render leaves nothing."""
    key = hashlib.sha256(repr((lesson.spec, lesson.takes)).encode()).hexdigest()[:16]
    folder = cache / renderer_version() / key
    if not folder.is_dir():
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder.parent) as spare:
            made = Path(spare) / "lesson"
            make_lesson(made, lesson.spec, list(lesson.takes))
            shutil.move(made, folder)
    return folder
