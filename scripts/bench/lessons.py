"""The lessons of a benchmark: spread evenly over the set-ups, drawn afresh from a seed, rendered once and kept."""

import hashlib
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count, cycle, islice
from pathlib import Path
from typing import Any

import numpy as np
from render.lesson import Take, make_lesson
from render.scene_spec import SceneSpec, draw

ROOT = Path(__file__).resolve().parents[2]
RENDERER = ROOT / "scripts" / "render"
CACHE = ROOT / "bench_cache"

DELIVERIES = ("tee", "toss", "live")
NOT_HITS = ("miss", "foul_tip", "miss", "checked")

# These two go round together, one a step further each round: 60 lessons in a row hold each pair as often as any.
PLACES = ("behind", "left45", "side", "right45", "high", "low")
RATES = (60.0, 30.0, 60.0, 120.0, 60.0, 30.0, 60.0, 120.0, 60.0, 240.0)
# What else varies in every lesson. A round holds each choice as often as it stands here, in an order of its own.
ROUNDS: dict[str, tuple[Any, ...]] = {
    "lines": (1080, 720, 1080, 1080, 720, 1080, 1080, 720, 1080, 1080, 1080, 2160),
    "light": ("sun", "overcast"),
    "ball_kind": ("softball-12", "softball-11", "softball-12", "baseball", "softball-12"),
    "ball_colour": ("optic", "white", "optic", "worn"),
    "bats": ("right", "left", "right"),
    "codec": ("h264", "hevc", "h264", "hevc10", "h264"),
    "sound": ("clear", "windy", "clear", "busy"),
    "mark_sd_px": (0.4, 0.6, 0.8, 1.0, 1.2),
    "focal_sd": (0.005, 0.01, 0.01, 0.02),
}
# What an ordinary lesson has not: indoors, veils, an unsteady phone, clothes and balls that confuse.
ORDINARY: dict[str, Any] = {
    "venue": "field", "veil": "none", "net": False, "hand_px": 0.0, "bump_px": 0.0, "exposure_step": 0.0, "cloud": 0.0,
    "catcher": False, "next_ball": False, "like_cloth": False, "stretched": False, "give_fov": True,
}  # fmt: skip
IS_HARD = (False, False, True, False, True)  # two lessons of five
DIFFICULTIES: dict[str, dict[str, Any]] = {
    "behind the backstop": {"place": "screen", "veil": "chain_link"},
    "cage": {"venue": "cage", "light": "lamps"},
    "exposure steps, clouds": {"exposure_step": 0.25, "cloud": 0.3, "light": "sun"},
    "lens known to 4 %": {"focal_sd": 0.04},
    "dusk": {"light": "dusk"},
    "hits into a net": {"net": True},
    "phone in the hand": {"hand_px": 1.5},
    "ball-coloured clothes": {"like_cloth": True},
    "gym": {"venue": "gym", "light": "lamps"},
    "no sound": {"sound": "none"},
    "netting before the phone": {"veil": "netting"},
    "next ball tossed in": {"next_ball": True, "spare_balls": 8},
    "tripod knocked": {"bump_px": 12.0, "bump_from": 2},
    "lens not stated": {"give_fov": False},
    "music": {"sound": "music"},
    "catcher": {"catcher": True, "place": "left45"},
    "stretched slow motion": {"fps": 240.0, "lines": 1080, "stretched": True},
}
# Every third hard lesson has a second difficulty, one that goes with any other.
SECONDS = ("lens known to 4 %", "next ball tossed in", "exposure steps, clouds", "music", "ball-coloured clothes")
SECOND_EVERY = 3

# Short clips, since rendering takes most of the time: before and after contact at most, by whether it is slow motion.
LEAD_S, TAIL_S = {False: 0.8, True: 0.55}, {False: 1.2, True: 0.9}
SLOW_MOTION_FPS = 100.0
HITS, DEAR_HITS = 5, 4  # a lesson; fewer where frames are dear
DEAR_FPS, DEAR_LINES = 200.0, 2000
MOST_FPS_OF_2160 = 60.0  # what phones film
# A small run is to tell whether something broke: easy lessons, so that a lost ball means something.
SMALL: dict[str, Any] = {
    "lines": 720, "lead_s": 0.5, "tail_s": 0.6, "codec": "h264", "sound": "clear", "ball_kind": "softball-12",
    "ball_colour": "optic", "mark_sd_px": 0.6, "focal_sd": 0.01,
}  # fmt: skip
SMALL_SET_UPS, SMALL_HITS = (("left45", 30.0), ("behind", 60.0)), 2  # the one soonest rendered first


@dataclass(frozen=True, slots=True)
class BenchLesson:
    """One lesson to be rendered and measured."""

    number: int  # from 1
    spec: SceneSpec
    takes: tuple[Take, ...]
    difficulties: tuple[str, ...]  # none: an ordinary lesson

    @property
    def title(self) -> str:
        """The set-up in a few words."""
        s = self.spec
        words = [s.place, f"{s.fps:.0f}/s", s.ball_kind, f"{s.lines} lines", s.light, *self.difficulties]
        return ", ".join(dict.fromkeys(words))

    @property
    def tags(self) -> dict[str, str]:
        """Each side of the set-up by which results are told apart."""
        s = self.spec
        return {
            "phone": PHONE_WORDS[s.place],
            "frame rate": f"{s.fps:.0f} frames/s",
            "picture": f"{s.lines} lines",
            "light": s.light,
            "venue": s.venue,
            "ball": s.ball_kind,
            "ball colour": s.ball_colour,
            "batter": f"{s.bats}-handed",
            "codec": s.codec,
            "sound": "none" if s.stretched else s.sound,
            "lens known to": f"{100 * s.focal_sd:g} %" if s.give_fov else "not stated",
            "marks set to": f"{s.mark_sd_px:.1f} px",
        }

    @property
    def cost(self) -> float:
        """Pixels to be rendered, but for a factor."""
        return self.spec.fps * self.spec.lines**2 * len(self.takes) * (self.spec.lead_s + self.spec.tail_s)


PHONE_WORDS = {
    "behind": "behind the plate", "left45": "45° left", "right45": "45° right", "side": "side-on",
    "high": "high in the stands", "low": "low tripod", "screen": "behind the screen",
}  # fmt: skip


def lessons(seed: int, number: int, small: bool = False) -> list[BenchLesson]:
    """``number`` lessons; those of a smaller number come first among those of a larger.

    Three in five are ordinary: outdoors by day, on a tripod, nothing before the phone. The others take the
    difficulties in turn. Everything else (lens, exposure, wind, drag law, ...) is the renderer's draw. ``small``
    makes easy lessons of three short clips in small pictures.
    """
    rng = np.random.default_rng([seed, 10])
    places, rates = rng.permutation(PLACES), rng.permutation(RATES)
    drawn = {name: _in_rounds(each, seed, k) for k, (name, each) in enumerate(ROUNDS.items())}
    hard = cycle([False]) if small else cycle(IS_HARD)
    difficulties, others = _in_turn(seed), _in_rounds(NOT_HITS, seed, 60)
    out = []
    for k in range(number):
        rng = np.random.default_rng([seed, 70, k])
        names = next(difficulties) if next(hard) else ()
        chosen = ORDINARY | {name: next(each) for name, each in drawn.items()}
        chosen |= {"place": str(places[k % len(places)]), "fps": float(rates[(k + k // len(places)) % len(rates)])}
        for name in reversed(names):
            chosen |= DIFFICULTIES[name]
        if small:
            chosen["place"], chosen["fps"] = SMALL_SET_UPS[k % len(SMALL_SET_UPS)]
        spec = draw(int(rng.integers(2**31)), **_possible(chosen, small))
        hits = SMALL_HITS if small else DEAR_HITS if spec.fps > DEAR_FPS or spec.lines > DEAR_LINES else HITS
        out.append(BenchLesson(k + 1, spec, _takes(spec, k, hits, next(others)), names))
    return out


def _in_rounds(choices: Sequence[Any], seed: int, stream: int) -> Iterator[Any]:
    """Round after round of all choices, each in an order of its own."""
    rng = np.random.default_rng([seed, 80, stream])
    while True:
        yield from (choices[k] for k in rng.permutation(len(choices)))


def _in_turn(seed: int) -> Iterator[tuple[str, ...]]:
    """The difficulties of each hard lesson."""
    first, second = _in_rounds(tuple(DIFFICULTIES), seed, 50), _in_rounds(SECONDS, seed, 51)
    for k in count():
        name = next(first)
        if k % SECOND_EVERY != SECOND_EVERY - 1:
            yield (name,)
            continue
        # A second of the same kind would change nothing; the next round's is another.
        more = next(each for each in second if not DIFFICULTIES[each].keys() & DIFFICULTIES[name].keys())
        yield name, more


def _possible(chosen: dict[str, Any], small: bool) -> dict[str, Any]:
    """The same without what does not exist: a yellow baseball, 4K in slow motion; with lengths that go with it."""
    slow = chosen["fps"] > SLOW_MOTION_FPS
    chosen = chosen | {"lead_s": LEAD_S[slow], "tail_s": TAIL_S[slow]} | (SMALL if small else {})
    if chosen["ball_kind"] == "baseball" and chosen["ball_colour"] == "optic":
        chosen["ball_colour"] = "white"
    if chosen["lines"] > DEAR_LINES and chosen["fps"] > MOST_FPS_OF_2160:
        chosen["lines"] = 1080
    return chosen


def _takes(spec: SceneSpec, turn: int, hits: int, other: str) -> tuple[Take, ...]:
    """Hits of the deliveries in turn, and one swing that hits nothing or hardly; nobody tips a ball off a tee."""
    kinds = list(islice(cycle(DELIVERIES), turn % 3, turn % 3 + hits + 1))
    planned = [(kind, "hit") for kind in kinds[:-1]]
    planned.append(("live" if other == "foul_tip" and kinds[-1] == "tee" else kinds[-1], other))
    rng = np.random.default_rng([spec.seed, 90])
    planned = [planned[k] for k in rng.permutation(len(planned))]
    planned.sort(key=lambda pair: DELIVERIES.index(pair[0]))
    return tuple(
        Take(k, f"{DELIVERIES.index(kind) + 1:02d}-{kind}", kind, f"swing-{k + 1:02d}.{spec.container}", outcome)
        for k, (kind, outcome) in enumerate(planned)
    )


def digest_of(folder: Path, pattern: str) -> str:
    """Changes whenever a line of the files does: 12 hex digits."""
    digest = hashlib.sha256()
    for path in sorted(folder.glob(pattern)):
        digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()[:12]


def renderer_version() -> str:
    """Of the renderer's files."""
    return digest_of(RENDERER, "*.py")


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
