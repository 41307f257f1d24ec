"""What the program does with a file that a person brings, by its name; and that it ends in one way only."""

import contextlib
import signal
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from types import FrameType

from balltrack.errors import LessonError, MeasureError
from balltrack.names import hides_letters

LONGEST_S = 20.0  # of a file of less than 1 MB: honest ones of that size take less than 1 s
MOST_BYTES = 1_500_000_000  # of memory, for a process that reads one after the other
LONGEST_LINE = 1000  # where all named points of the field are told it takes 900


@dataclass(frozen=True)
class Read:
    """How reading a file ended."""

    name: str
    words: str  # the error for a person; empty where the file was read
    fault: str = ""  # what is wrong with that; empty where nothing is
    peak_mb: float = 0.0  # the most memory that the process has had so far


def try_to_read(path: Path) -> Read:
    """Read a file as the program does, and judge how that ends."""
    return replace(_read(path), peak_mb=_peak_mb())


def _peak_mb() -> float:
    """The most memory that this process has had. What `getrusage` says begins with what its parent had."""
    lines = Path("/proc/self/status").read_text().splitlines() if Path("/proc/self/status").exists() else []
    return next((float(line.split()[1]) * 1.024e-3 for line in lines if line.startswith("VmHWM:")), 0.0)


def _read(path: Path) -> Read:
    try:
        with _in_time():
            _reader_of(path.name)(path)
    except MeasureError as error:
        return Read(path.name, str(error), _fault_in(str(error), isinstance(error, LessonError)))
    except BaseException as error:
        return Read(path.name, "", f"{type(error).__name__}: {error}"[:300])
    return Read(path.name, "")


def start() -> None:
    """Prepare a process that reads: its memory is bounded as that of the program's own workers."""
    from balltrack.batch.limits import bound_memory

    bound_memory(MOST_BYTES)


def _fault_in(words: str, many: bool) -> str:
    """An error is one line; lesson.toml has a line for each wrong entry, up to 30."""
    lines = words.split("\n")
    if len(lines) > (31 if many else 1):
        return f"{len(lines)} lines"
    if any(hides_letters(line) for line in lines):
        return "letters that cannot be shown"
    return next((f"a line of {len(line)} letters" for line in lines if not 10 < len(line) <= LONGEST_LINE), "")


@contextlib.contextmanager
def _in_time() -> Iterator[None]:
    def stop(_number: int, _frame: FrameType | None) -> None:
        raise TimeoutError(f"longer than {LONGEST_S:.0f} s")

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, LONGEST_S, 1.0)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def _reader_of(name: str) -> Callable[[Path], None]:
    readers = {
        "swings.jsonl": read_swing_lines,
        "drawings.jsonl": read_drawn,
        "camera.json": read_solved,
        ".basis.json": read_basis,
        ".hand.json": read_said,
        ".hand.csv": read_rows,
        ".csv": read_track,
        ".toml": read_lesson,
    }
    return next((reader for ending, reader in readers.items() if name.endswith(ending)), read_clip)


def read_clip(path: Path) -> None:
    """As checking, cutting and measuring do: what it is, who filmed it and when, its times, pictures and sound."""
    from balltrack.check.make import check_clip
    from balltrack.onset import find_onsets
    from balltrack.video.clip import probe
    from balltrack.video.colour import colour_tags
    from balltrack.video.ends import ends_s
    from balltrack.video.filmed_on import filmed_on
    from balltrack.video.frames import read_frames
    from balltrack.video.glance import glances
    from balltrack.video.phone import read_phone
    from balltrack.video.sound import read_sound
    from balltrack.video.stamps import frame_times_s

    check_clip(path)
    info = probe(path)
    read_phone(path), filmed_on(path), colour_tags(path), frame_times_s(info)
    ends_s(info), list(glances(info, 0.1, 0.3))
    for _ in read_frames(path, info=info):
        pass
    for _ in read_frames(path, 0.2, 0.3, info=info):
        pass
    sound = read_sound(path, info)
    if sound:
        find_onsets(sound)


def read_lesson(path: Path) -> None:
    """With marks, as measuring does, and without, as planning does; then changed as the desk does."""
    from balltrack.lesson.edit import with_values
    from balltrack.lesson.lesson_toml import TomlFile
    from balltrack.lesson.load import lesson_of
    from balltrack.lesson.unmarked import load_unmarked

    load_unmarked(path)
    lesson_of(path.parent, TomlFile(path), filmed=False)
    with_values(TomlFile(path).data.decode("utf-8-sig"), ("player",), {"name": "Kim"})


def read_swing_lines(path: Path) -> None:
    """Records, shown as a table and as a spreadsheet."""
    from balltrack.records.store import read_swings
    from balltrack.records.table import swings_csv
    from balltrack.terminal import swing_table

    swings = read_swings(path)
    swings_csv(swings, "us")
    swing_table(swings, "us")


def read_basis(path: Path) -> None:
    """What a swing was measured from, and the lesson measured with it."""
    from balltrack.flight.shared import fit_together
    from balltrack.records.basis_file import read_bases, read_made
    from balltrack.records.corrections import NO_CORRECTIONS
    from balltrack.records.refit import Ground, settle_clip
    from tests.hostile.sound_records import setting

    read_made(path)
    bases, settled, _ = read_bases(path)
    ground = Ground(setting(), None, "right")
    settle_clip(bases, NO_CORRECTIONS, ground)
    flights = [each.flight for each in settled if each.flight]
    fit_together([flight.fit for flight in flights], [flight.contact for flight in flights], ground.setting)


def read_track(path: Path) -> None:
    """As training does."""
    from balltrack.training.taught import _used_rows

    _used_rows(path, {"01-tee/001#1"}, 1e-5)


def read_drawn(path: Path) -> None:
    """What was drawn on stills; it has one name only."""
    from balltrack.records.drawings import NAME, read_drawings

    folder = path.with_suffix(".folder")
    folder.mkdir(exist_ok=True)
    (folder / NAME).write_bytes(path.read_bytes())
    read_drawings(folder)


def read_solved(path: Path) -> None:
    """The solved camera."""
    from balltrack.records.camera_file import read_camera

    read_camera(path)


def read_said(path: Path) -> None:
    """A person's word on swings."""
    from balltrack.records.verdict import read_verdicts

    read_verdicts(path)


def read_rows(path: Path) -> None:
    """Balls set by hand."""
    from balltrack.records.hand import read_hand

    read_hand(path)
