"""What a coach reads in the terminal: a progress bar, the swings, the camera, and what to know about them."""

import math
import time
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
from rich.table import Table

from balltrack.records import wording
from balltrack.records.swing import Swing
from balltrack.records.table import DEPTH, DISTANCE, SPEED, Units

if TYPE_CHECKING:
    from balltrack.batch import ClipDone, LessonOutcome


TELL_EVERY_S = 60.0  # where nobody watches: a line in a log
OUTCOME_MEANS = "Outcome: of a measured swing, how far to trust it (good, fair, poor)."


class ProgressLine:
    """A bar over the clips, on standard error so that the table can be piped; a line a minute where that is a file."""

    def __init__(self) -> None:
        console = Console(stderr=True)
        columns = (TextColumn("Measuring"), BarColumn(), MofNCompleteColumn(), TextColumn("{task.fields[left]}"))
        self._progress = Progress(
            *columns,
            TextColumn("{task.description}"),
            console=console,
            transient=True,
            disable=not console.is_terminal,
        )
        self._task = self._progress.add_task("", total=None, left="")
        self._began_s = self._told_s = time.monotonic()
        self._kept = 0  # clips that need not be measured tell nothing of the time that the others take

    def __enter__(self) -> "ProgressLine":
        self._progress.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._progress.stop()

    def show(self, done: int, total: int, last: "ClipDone | None") -> None:
        """Move the bar; a clip's trouble is said at once."""
        if last is None:
            self._kept, self._began_s = done, time.monotonic()
        elif last.problem:
            self._progress.console.print(f"[bold]{escape(last.clip.name)}[/]: {escape(last.problem)}", soft_wrap=True)
        now_s = time.monotonic()
        left = time_left_words(now_s - self._began_s, done - self._kept, total - done)
        name = escape(last.clip.name) if last else ""
        self._progress.update(self._task, completed=done, total=total, description=name, left=left)
        if not self._progress.console.is_terminal and now_s - self._told_s >= TELL_EVERY_S:
            self._told_s = now_s
            self._progress.console.print(f"{done} of {total} clips, {left}", soft_wrap=True)


def time_left_words(spent_s: float, done: int, left: int) -> str:
    """How long the clips that are left will take, if they are like those done; empty where none is done or left."""
    if not done or not left:
        return ""
    left_s = spent_s / done * left
    if left_s < 90:
        return f"about {10 * math.ceil(left_s / 10)} s left"
    return f"about {left_s / 60:.0f} min left" if left_s < 5400 else f"about {left_s / 3600:.1f} h left"


def print_outcome(outcome: "LessonOutcome", units: Units, lies_at: str = "") -> None:
    """Print the swings, the camera, and all that a person should know before trusting the numbers.

    ``lies_at`` is where the results are if not where they were made.
    """
    console = Console(width=None if Console().is_terminal else 110, highlight=False)
    if outcome.swings:
        console.print(swing_table(outcome.swings, units))
        console.print(f"{OUTCOME_MEANS}\n{wording.PLUS_MINUS_MEANS}\n{wording.DIRECTION_MEANS}", style="dim")
        if pitched := [swing for swing in outcome.swings if swing.pitch_frames or swing.ended in ("tip", "take")]:
            console.print("\n[bold]Pitches[/]", pitch_table(pitched, units), sep="\n")
            console.print(wording.PITCHES_MEAN, style="dim")
    elif not outcome.stopped:
        console.print("No swing was found in any clip; is the camera on the batter, and is there sound or a ball?")
    for heading, lines in (
        ("Why swings have no numbers", _reasons(outcome.swings)),
        ("Put right by hand", _by_hand(outcome.swings)),
        ("Know before you trust the numbers", _swing_warnings(outcome.swings)),
        ("Camera", camera_lines(outcome)),
        ("Finding the ball", detector_lines(outcome)),
        ("Lesson and clips", outcome.notes),
    ):
        if lines:
            console.print(f"\n[bold]{heading}[/]")
            for line in lines:
                console.print(f"  {escape(line)}", soft_wrap=True)
    if outcome.ends.total() > 1:
        console.print(f"\n{_ends_words(outcome.ends)}")
    if outcome.kept:
        console.print(_kept_words(outcome))
    if outcome.stopped:
        console.print("\nStopped; what was done is kept. Clips not reached have the swings of an earlier run, or none.")
    console.print(f"\nResults are in {escape(lies_at or str(outcome.results))}", soft_wrap=True)


def swing_table(swings: Sequence[Swing], units: Units) -> Table:
    """One row a swing; the heading carries the unit."""
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold")
    speed, near, far = SPEED[units].unit, DEPTH[units].unit, DISTANCE[units].unit
    table.add_column("Swing\n", overflow="fold")
    table.add_column("Outcome\n")
    for name, unit in (("Exit speed", speed), ("Launch", "°"), ("Direction", "°"), ("Contact", near), ("Carry", far)):
        table.add_column(f"{name}\n{unit}", justify="right", no_wrap=True)
    for swing in swings:
        numbers = (
            wording.exit_speed(swing, units),
            wording.launch(swing),
            wording.direction(swing),
            wording.depth(swing, units),
            wording.carry(swing, units),
        )
        word = "left out" if swing.excluded else swing.quality or wording.outcome(swing)
        table.add_row(escape(swing.swing), word + ("*" if swing.by_hand else ""), *numbers)
    return table


def pitch_table(swings: Sequence[Swing], units: Units) -> Table:
    """One row a swing of which something is told of its pitch."""
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold")
    speed, near, far = SPEED[units].unit, DEPTH[units].unit, DISTANCE[units].unit
    table.add_column("Swing\n", overflow="fold")
    table.add_column("Ended\n")
    headings = ("Pitch", speed), ("Highest", far), ("Downward", "°"), ("Over the plate", near), ("Bat came", "ms")
    for name, unit in headings:
        table.add_column(f"{name}\n{unit}", justify="right", no_wrap=True)
    for swing in swings:
        numbers = (
            wording.pitch_speed(swing, units),
            wording.pitch_apex(swing, units),
            wording.pitch_descent(swing),
            wording.pitch_place(swing, units),
            wording.early(swing),
        )
        table.add_row(escape(swing.swing), swing.ended or wording.NOTHING, *numbers)
    return table


def detector_lines(outcome: "LessonOutcome") -> list[str]:
    """What found the ball, and in how many of the positions that the flights are fitted to."""
    if outcome.detector == "motion":
        return [f"By {wording.found_by('motion')}, without the network: nets, dusk and crowds hide more balls."]
    found = outcome.found_by
    counts = f"{found['both']} by both, {found['motion']} by motion alone, {found['network']} by the network alone"
    counts += f", {found['hand']} set by hand" if found["hand"] else ""
    return [f"By {wording.found_by(outcome.detector)}: of {found.total()} positions used, {counts}."]


def camera_lines(outcome: "LessonOutcome") -> list[str]:
    """How well the marks agree with the camera, the worst of them, and what was left out."""
    solved, marks = outcome.solved, outcome.lesson.marks
    misses_px = np.hypot(*solved.residuals_px.T)
    used = [i for i, mark in enumerate(marks) if mark.name not in solved.rejected]
    worst = max(used, key=lambda i: misses_px[i])
    agreement = (
        f"{len(used)} of {len(marks)} marks used; they miss by {np.sqrt(np.mean(misses_px[used] ** 2)):.1f} px "
        f"(root mean square), {marks[worst].name} most: {misses_px[worst]:.1f} px"
    )
    return [agreement, *solved.warnings]


def _ends_words(ends: Counter[str]) -> str:
    """What became of the clips, each counted once."""
    words = (
        ("swing", "with a swing"),
        ("none", "without one"),
        ("problem", "that could not be measured"),
        ("not reached", "not reached"),
    )
    return f"{ends.total()} clips: {', '.join(f'{ends[end]} {said}' for end, said in words if ends[end])}."


def _kept_words(outcome: "LessonOutcome") -> str:
    """How many clips an earlier run had measured."""
    clips = len(outcome.lesson.clips)
    if outcome.kept == clips:
        return "No clip has changed since it was measured; none was measured again. To do so: --again"
    return f"{outcome.kept} of {clips} clips have not changed since they were measured, and were not measured again."


def _reasons(swings: Sequence[Swing]) -> list[str]:
    return [f"{swing.swing}: {swing.reason}" for swing in swings if swing.reason]


def _by_hand(swings: Sequence[Swing]) -> list[str]:
    """What a person put right, swing by swing: those with a star."""
    return [
        f"* {swing.swing}: {', '.join(swing.by_hand)}" + (f" ({swing.excluded})" if swing.excluded else "")
        for swing in swings
        if swing.by_hand
    ]


def _swing_warnings(swings: Sequence[Swing]) -> list[str]:
    """Each warning once, with the swings that it is about."""
    about: dict[str, list[str]] = {}
    for swing in swings:
        for warning in swing.warnings:
            about.setdefault(warning, []).append(swing.swing)
    return [f"{warning} ({_all_or(names, len(swings))})" for warning, names in about.items()]


def _all_or(names: Sequence[str], total: int) -> str:
    return "all swings" if len(names) == total > 1 else ", ".join(names)
