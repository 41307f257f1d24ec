"""Search for input that a parser stumbles over, led by coverage: python scripts/fuzz_parsers.py lesson

Parsers: lesson, swings, basis, hand, said, drawn. It goes on until something is found, written as crash-… where it
was started, or until told to stop. What stands behind the name goes to libFuzzer: -max_total_time=60, -runs=100000,
-seed=1, or a file or a folder of files to begin with. Needs atheris, which developers have on Linux.
"""

import json
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import atheris

with atheris.instrument_imports(include=["balltrack.lesson", "balltrack.records", "balltrack.plain_file", "tomllib"]):
    from balltrack.errors import MeasureError
    from balltrack.lesson.lesson_toml import TomlFile
    from balltrack.lesson.load import lesson_of
    from balltrack.names import hides_letters
    from balltrack.records.basis_file import read_bases
    from balltrack.records.drawings import NAME, read_drawings
    from balltrack.records.hand import HAND_COLUMNS, read_hand
    from balltrack.records.swing import from_json, to_json
    from balltrack.records.verdict import read_verdicts

MOST_BYTES = 4000  # of one input: most faults need few, and short ones are soon tried
SAMPLE = Path(__file__).resolve().parents[1] / "sample_clips" / "lesson.toml"


def main() -> None:
    """Choose the parser, and search until told to stop."""
    if len(sys.argv) < 2 or sys.argv[1] not in PARSERS:
        sys.exit(f"give one of {', '.join(PARSERS)}; see the head of this script")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        parser, seeds = PARSERS[sys.argv[1]], folder / "seeds"
        seeds.mkdir()
        (seeds / "0").write_bytes(SEEDS.get(sys.argv[1], b"{}"))
        options = [f"-max_len={MOST_BYTES}", "-rss_limit_mb=2000", "-timeout=10", *sys.argv[2:]]
        atheris.Setup([sys.argv[0], *options, str(seeds)], lambda data: judge(parser, folder, data))
        atheris.Fuzz()


def judge(parser: Callable[[Path, bytes], Any], folder: Path, data: bytes) -> None:
    """Anything but a result or a clear error goes up, and is what was searched for."""
    try:
        parser(folder, data)
    except MeasureError as error:
        if any(hides_letters(line) for line in str(error).split("\n")):
            raise ValueError(f"the error itself cannot be shown: {error!s:.200}") from error


def _lesson(folder: Path, data: bytes) -> None:
    lesson_of(folder, TomlFile(folder / "lesson.toml", data), filmed=False)


def _swing(_: Path, data: bytes) -> None:
    swing = from_json(data.decode(errors="replace"))
    if from_json(to_json(swing)) != swing:
        raise ValueError("a record is not what it was once it is written and read")


def _basis(folder: Path, data: bytes) -> None:
    read_bases(_written(folder / "1.basis.json", data))


def _hand(folder: Path, data: bytes) -> None:
    read_hand(_written(folder / "1.hand.csv", ",".join(HAND_COLUMNS).encode() + b"\n" + data))


def _said(folder: Path, data: bytes) -> None:
    read_verdicts(_written(folder / "1.hand.json", data))


def _drawn(folder: Path, data: bytes) -> None:
    _written(folder / NAME, data)
    read_drawings(folder)


def _written(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path


PARSERS: dict[str, Callable[[Path, bytes], Any]] = {
    "lesson": _lesson,
    "swings": _swing,
    "basis": _basis,
    "hand": _hand,
    "said": _said,
    "drawn": _drawn,
}
_MISS = {
    "swing": "01-tee/001#1",
    "clip": "clips/01-tee/001.mp4",
    "block": "01-tee",
    "outcome": "no_contact",
    "balltrack_version": "0.1.0",
    "settings_hash": "abc123",
    "contact_m": [0.1, 0.5, 0.8],
    "warnings": ["a word"],
}
SEEDS: dict[str, bytes] = {
    "lesson": SAMPLE.read_bytes()[:MOST_BYTES],
    "swings": json.dumps(_MISS).encode(),
    "basis": b'{"made": null, "stood": null, "swings": []}',
    "hand": b"1.25,640.5,360.25,12.5\n1.5,,,\n",
    "said": b'{"swings": [{"swing": "01-tee/001#1", "near_s": 1.2, "contact_s": null, "excluded": "slipped"}]}',
    "drawn": b'{"swing": "a", "clip": "b", "time_s": 1.0, "view_px": [0, 0, 64, 64], "marks": []}\n',
}


if __name__ == "__main__":
    main()
