"""Make examples, train the ball detector on them, export it to ONNX and score it on examples that it never saw.

    python scripts/train_detector.py --out run --pictures PHOTOS VIDEOS ...      all of it; a GPU helps: --device 0
    python scripts/train_detector.py --out run --small                           a minute or two on a CPU: does it run?

Examples are small clips composed over photographs, videos and drawn textures, and patches of rendered lessons, all
through a phone's codec. The same command, stopped and started again, goes on from what lies in --out. Nothing is
downloaded and nothing calls home. Needs the training set: pip install -e '.[train,dev]'.
"""

import argparse
import json
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, replace
from multiprocessing import get_context
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

from bench.result_file import cores
from detector.examples import Plan, make_examples, single_frame_copy, test_patches
from detector.patch import Patch
from detector.score import score, table

from balltrack.detect.network import load_network
from balltrack.detect.triple import SIDE_PX
from balltrack.errors import DetectorError
from balltrack.training.yolo import Recipe, export, slim, train

SMALL = {"composites": 240, "lessons": 0, "epochs": 2, "batch": 32}


def parse(arguments: list[str] | None) -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="examples, weights, curves and scores")
    parser.add_argument("--pictures", type=Path, nargs="*", default=[], metavar="PATH", help="photographs and videos")
    parser.add_argument("--composites", type=int, default=60000, help="small clips to compose (default 60000)")
    parser.add_argument("--lessons", type=int, default=48, help="lessons to render (default 48)")
    parser.add_argument("--lines", type=int, default=1080, help="largest picture of a lesson (default 1080)")
    parser.add_argument("--epochs", type=int, default=40)
    parser.add_argument("--hours", type=float, help="train so long instead of by epochs")
    parser.add_argument("--batch", type=int, default=512)
    parser.add_argument("--device", default="cpu", help="cpu, or a GPU's number; two (0,1) train both of --ablation")
    parser.add_argument("--workers", type=int, default=cores())
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--ablation", action="store_true", help="train a detector of one frame too, to compare")
    parser.add_argument("--small", action="store_true", help="a few examples and two epochs")
    said = parser.parse_args(arguments)
    if said.small:
        vars(said).update(SMALL)
    for path in said.pictures:
        if not path.exists():
            parser.error(f"--pictures {path}: there is no such file or folder")
    return said


def run_one(index: Path, out: Path, recipe: Recipe) -> None:
    """Train and export one detector; what is needed of it comes to lie in ``out``."""
    weights = train(index, out, recipe)
    if not (out / "ball.onnx").is_file():
        slim(weights, out / "ball.pt")
        export(weights, out / "ball.onnx")


def scored(onnx: Path, patches: list[Patch], out: Path) -> str:
    """Score on held-out patches; the table is kept beside the weights."""
    words = table(score(load_network(onnx), patches))
    out.write_text(words)
    return words


def main(arguments: list[str] | None = None) -> int:
    """Examples, training, export, scores."""
    said = parse(arguments)
    said.out.mkdir(parents=True, exist_ok=True)
    plan = Plan(
        said.out / "examples", tuple(said.pictures), said.composites, said.lessons, said.lines, said.seed
    )
    recipe = Recipe(
        said.epochs, said.batch, SIDE_PX, 0.003, said.workers, said.device.split(",")[0], said.seed % 2**31, said.hours
    )
    made_of = {"composites": said.composites, "lessons": said.lessons, "lines": said.lines}
    (said.out / "recipe.json").write_text(json.dumps(made_of | asdict(recipe), indent=1))
    index = make_examples(plan, said.workers)
    three, one = said.out / "three", said.out / "one"
    todo = [(index, three, recipe)]
    if said.ablation:
        single = single_frame_copy(plan.folder, said.out / "examples-one", said.workers)
        todo.append((single, one, replace(recipe, device=said.device.split(",")[-1])))
    if len(todo) > 1 and "," in said.device:
        halved = [(*each, replace(made, workers=max(made.workers // 2, 1))) for *each, made in todo]
        with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
            list(pool.map(run_one, *zip(*halved, strict=True)))
    else:
        for each in todo:
            run_one(*each)
    patches = list(test_patches(plan.folder))
    if patches:
        print(scored(three / "ball.onnx", patches, three / "scores.md"))
    if patches and said.ablation:
        still = [replace(patch, frames=patch.frames[[1, 1, 1]]) for patch in patches]
        print("one frame:\n" + scored(one / "ball.onnx", still, one / "scores.md"))
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except (DetectorError, ValueError) as error:
        sys.exit(str(error))
