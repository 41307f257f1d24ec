"""How well the detector finds the ball in real footage that was labelled by hand.

    python scripts/score_footage.py FOOTAGE_DIR                      a line for every clip
    python scripts/score_footage.py FOOTAGE_DIR --weights FILE       of other weights than the package's own
    python scripts/score_footage.py FOOTAGE_DIR --report docs        writes docs/footage.md, docs/footage/CLIP.png
    python scripts/score_footage.py FOOTAGE_DIR --sheets DIR         pictures of every miss, to look at

FOOTAGE_DIR holds the clips that scripts/footage/clips.py names; those that are absent are left out, and said. A sheet
shows every missed ball of its clip, three frames side by side. With --report come only sheets of clips whose pictures
may be published; those of --sheets are for one's own eyes. Exit status 1: nothing could be scored.
"""

import argparse
import importlib.util
import os
import sys
from pathlib import Path

if importlib.util.find_spec("balltrack") is None:
    sys.exit("this Python has no balltrack: pip install -e . first, or use the .venv that scripts/test.py makes")
os.environ.setdefault("OMP_NUM_THREADS", "1")

from footage.clips import WITH_BALL, WITHOUT_BALL
from footage.labels import read_labels
from footage.page import HEAD, RULE, page, row, row_of_all
from footage.score import ClipScore, Finder, score_clip
from footage.sheet import miss_sheet

from balltrack.detect.network import load_network, shipped_weights
from balltrack.errors import MeasureError
from balltrack.records.atomic import write_atomic


def parse(arguments: list[str] | None) -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("footage", type=Path, metavar="FOOTAGE_DIR", help="folder with toss/, fields/, containers/")
    parser.add_argument("--weights", type=Path, metavar="FILE", help="detector weights (default: the package's own)")
    parser.add_argument("--report", type=Path, metavar="DIR", help="write DIR/footage.md and its pictures")
    parser.add_argument("--sheets", type=Path, metavar="DIR", help="write a picture of every miss of every clip")
    said = parser.parse_args(arguments)
    if not said.footage.is_dir():
        parser.error(f"{said.footage}: there is no such folder")
    return said


def score_all(footage: Path, finder: Finder) -> list[ClipScore]:
    """Score every clip that is there, saying each when it is done."""
    scores: list[ClipScore] = []
    print(HEAD, RULE, sep="\n")
    for clip in (*WITH_BALL, *WITHOUT_BALL):
        path = footage / clip.path
        if not path.is_file():
            print(f"{clip.path} is not there and is left out", file=sys.stderr)
            continue
        labels = read_labels(clip.labels) if clip in WITH_BALL else []
        scores.append(score_clip(clip, path, labels, finder))
        print(row(scores[-1]), flush=True)
    return scores


def write_sheets(scores: list[ClipScore], folder: Path, published_only: bool) -> None:
    """One picture for each clip with misses; an older one of a clip without any goes away."""
    for each in scores:
        path = folder / f"{each.clip.name}.png"
        if each.misses and (each.clip.publish or not published_only):
            write_atomic(path, miss_sheet(each.misses))
        else:
            path.unlink(missing_ok=True)


def main(arguments: list[str] | None = None) -> int:
    """Score, print, write; the exit status."""
    said = parse(arguments)
    try:
        scores = score_all(said.footage, load_network(said.weights or shipped_weights()))
        if not scores:
            print(f"{said.footage} holds none of the clips that scripts/footage/clips.py names", file=sys.stderr)
            return 1
        labelled = [each for each in scores if each.flights]
        if labelled:
            print(row_of_all(labelled))
        if said.sheets:
            write_sheets(scores, said.sheets, published_only=False)
        if said.report:
            write_sheets(scores, said.report / "footage", published_only=True)
            write_atomic(said.report / "footage.md", page(scores, (said.weights or shipped_weights()).name, "footage"))
    except MeasureError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
