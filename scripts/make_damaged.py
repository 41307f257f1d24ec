"""Write damaged and lying files, to try a reader with: python scripts/make_damaged.py OUT_DIR [--results DIR]

Clips are made by the ffmpeg program and then broken; lesson.toml and, with --results, the files of a measured lesson
are broken likewise. The same seed gives the same files, as far as ffmpeg gives the same clips.
"""

import argparse
from pathlib import Path

from damaged.breakage import CLIPS, RECORDS, TOMLS, Named, broken
from damaged.clips import LIARS, sound_clips
from damaged.lies import lying_clips, lying_texts

SAMPLE_TOML = Path(__file__).resolve().parents[1] / "sample_clips" / "lesson.toml"


def corpus(folder: Path, seed: int, records: tuple[Named, ...] = ()) -> list[Path]:
    """Write all damaged files into a folder; their paths.

    ``records`` are sound files of a measured lesson, by their names: swings.jsonl, camera.json, 001.basis.json and so
    on. Of each sort of file so many are made as ``breakage`` says, and all lies on top.
    """
    folder.mkdir(parents=True, exist_ok=True)
    clips = sound_clips(folder / "sound")
    tomls = (Named("lesson.toml", SAMPLE_TOML.read_bytes()),)
    files = [
        *broken(clips, CLIPS, seed),
        *broken(tomls, TOMLS, seed + 1),
        *broken(records, RECORDS if records else 0, seed + 2),
        *lying_clips(clips),
        *sound_clips(folder / "lying", LIARS),
        *lying_texts(),
    ]
    return [_written(folder / f"{number:03d}-{file.name}", file.data) for number, file in enumerate(files)]


def _written(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path


def main() -> None:
    """Parse, make, say where."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path, metavar="OUT_DIR")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--results", type=Path, metavar="DIR", help="results/ of a measured lesson")
    args = parser.parse_args()
    kinds = ("swings.jsonl", "camera.json", "drawings.jsonl", "tracks/*/*.basis.json", "tracks/*/*.hand.*")
    found = sorted(path for kind in kinds for path in args.results.glob(kind)) if args.results else []
    made = corpus(args.out, args.seed, tuple(Named(path.name, path.read_bytes()) for path in found))
    print(f"{len(made)} files in {args.out}")


if __name__ == "__main__":
    main()
