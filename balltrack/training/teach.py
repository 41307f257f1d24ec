"""Fine-tuning on a person's own lessons: train, compare on swings held back, take the new weights only if better."""

import hashlib
import shutil
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from balltrack.detect.network import load_network, own_weights, shipped_weights
from balltrack.detect.triple import SIDE_PX
from balltrack.errors import DetectorError
from balltrack.training.compare import Tally, is_better, share_better, tally
from balltrack.training.cut import as_example, cut_swing, exposure_s
from balltrack.training.dataset import write_example, write_index
from balltrack.training.example import Example
from balltrack.training.install import install
from balltrack.training.taught import TaughtSwing, taught_swings
from balltrack.training.yolo import Recipe, check_ready, export, slim, train

LEAST_SWINGS, LEAST_POSITIONS = 5, 60
HELD_BACK, LEAST_HELD_BACK = 5, 2  # of so many swings one, but not one alone: its frames are all alike
SEED = 20261125
EPOCHS = 12
BATCH = 32
LEARNING_RATE = 0.0003  # a tenth of that from nothing: what was learned before is to stay
CHOOSE_BY = 5  # of so many training patches one is looked at again after each epoch

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Wish:
    """How to train, and where the new weights shall go."""

    out: Path | None = None  # own_weights() where None
    epochs: int = EPOCHS
    device: str = "cpu"


@dataclass(frozen=True, slots=True, eq=False)
class Taught:
    """What came of it."""

    old_name: str  # of the weights that were in use
    old: Tally
    new: Tally
    trained_on: int  # swings
    held_back: int  # swings
    share: float  # of draws in which the new weights are better
    taken: Path | None  # where the new weights lie now; None where they are not better
    backup: Path | None  # what stood there before


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Examples of some swings."""

    examples: list[Example]
    swing: list[int]  # of each example


def teach(folders: Sequence[Path], wish: Wish, say: Say = lambda words: None) -> Taught:
    """Train on lessons' measured tracks and corrections.

    Parameters
    ----------
    folders : sequence of Path
        Lesson folders with results.
    wish : Wish
    say : callable
        Called with a line about each step.

    Raises
    ------
    MeasureError
        If the training set is not installed, there is too little to learn from, a lesson, a clip or a correction
        cannot be read, or the new weights cannot be put in place.
    """
    check_ready(wish.device)
    if not _start().is_file():
        raise DetectorError(f"there are no weights to start from at {_start()}; install balltrack again")
    old = load_network()
    lessons = [taught_swings(folder) for folder in dict.fromkeys(folder.resolve() for folder in folders)]
    swings = [swing for lesson in lessons for swing in lesson]
    positions = sum(swing.positions for swing in swings)
    if len(swings) < LEAST_SWINGS or positions < LEAST_POSITIONS:
        raise DetectorError(
            f"{len(swings)} swings with {positions} positions of the ball are too few to learn from (at least "
            f"{LEAST_SWINGS} and {LEAST_POSITIONS}); measure more lessons first, or correct more frames by hand"
        )
    held = held_back([swing.name for swing in swings])
    say(f"{positions} positions of the ball in {len(swings)} swings, {len(held)} of them held back to judge by.")
    learn, judge_by = _parts(lessons, held)
    if not any(len(example.box_px) for example in judge_by.examples):
        raise DetectorError("no ball is known in the swings held back; measure or correct more swings")
    with tempfile.TemporaryDirectory(prefix="balltrack-train-") as spare:
        onnx = _train(learn.examples, Path(spare), wish)
        say("Comparing on the swings held back ...")
        before, after = tally(old, judge_by.examples), tally(load_network(onnx), judge_by.examples)
        share = share_better(before, after, judge_by.swing, SEED)
        taken = (wish.out or own_weights()) if is_better(share) else None
        backup = install(onnx, taken) if taken else None
    return Taught(old.name, before, after, len(swings) - len(held), len(held), share, taken, backup)


def held_back(names: Sequence[str]) -> set[str]:
    """About every fifth swing, at least two, and nearly always the same ones however many others there are.

    Weights trained last month never saw them either, so that old and new are compared on even terms.
    """
    place = {name: int.from_bytes(hashlib.sha256(name.encode()).digest()[:8]) / 2**64 for name in names}
    in_order = sorted(names, key=lambda name: place[name])
    least = max(-(-len(names) // HELD_BACK), LEAST_HELD_BACK)
    return set(in_order[: max(least, sum(place[name] < 1 / HELD_BACK for name in names))])


def _start() -> Path:
    return shipped_weights().with_suffix(".pt")


def _parts(lessons: Sequence[Sequence[TaughtSwing]], held: set[str]) -> tuple[_Part, _Part]:
    """Examples to learn from, and those held back."""
    learn, judge_by = _Part([], []), _Part([], [])
    guide, number = load_network(shipped_weights()), 0
    for lesson in lessons:
        cuts = [cut_swing(swing, np.random.default_rng([SEED, number + k])) for k, swing in enumerate(lesson)]
        shutter_s = exposure_s(guide, [cut for own in cuts for cut in own])
        for swing, own in zip(lesson, cuts, strict=True):
            part = judge_by if swing.name in held else learn
            part.examples.extend(as_example(cut, shutter_s) for cut in own)
            part.swing.extend([number] * len(own))
            number += 1
    return learn, judge_by


def _train(examples: Sequence[Example], spare: Path, wish: Wish) -> Path:
    """The new weights as ONNX, in ``spare``.

    The number of epochs is set beforehand. What the trainer chooses the best epoch by are some of the very patches it
    learns from: the swings held back must not take part in any choice.
    """
    data = spare / "examples"
    for number, example in enumerate(examples):
        write_example(data, "train", f"{number:06d}", example.frames, example.box_px)
        if number % CHOOSE_BY == 0:
            write_example(data, "val", f"{number:06d}", example.frames, example.box_px)
    recipe = Recipe(
        wish.epochs, min(BATCH, len(examples)), SIDE_PX, LEARNING_RATE, 0, wish.device, SEED, warmup_epochs=0.5
    )
    start = spare / "ball.pt"
    shutil.copy(_start(), start)
    best = train(write_index(data), spare / "run", recipe, start)
    slim(best, spare / "own-ball.pt", half_way_from=start)
    export(spare / "own-ball.pt", spare / "own-ball.onnx")
    return spare / "own-ball.onnx"


def words(taught: Taught) -> str:
    """What came of it, for the terminal."""
    lines = [
        f"{taught.held_back} swings held back, {len(taught.old.balls)} patches, {taught.old.balls.sum()} balls:",
        f"{'':26} {'balls found':>12} {'false finds a patch':>20} {'F1':>7}",
    ]
    for name, score in ((f"now: {taught.old_name}", taught.old), ("new", taught.new)):
        lines.append(f"{name:26} {score.recall:12.1%} {score.false_a_patch:20.3f} {score.f1:7.3f}")
    sure = f"better in {taught.share:.0%} of draws of swings and frames"
    if taught.taken is None:
        return "\n".join([*lines, f"Not surely better ({sure}; 95% are asked for): the weights in use stay."])
    lines.append(f"Better ({sure}): the new weights are in {taught.taken}")
    if taught.backup is not None:
        lines.append(f"What stood there before is kept in {taught.backup}")
    if taught.taken == own_weights():
        lines.append("balltrack measure takes them from now on; to go back, delete or rename that file.")
    else:
        lines.append(f"To measure with them: balltrack measure LESSON_DIR --weights {taught.taken}")
    return "\n".join(lines)
