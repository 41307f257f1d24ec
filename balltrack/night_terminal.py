"""What is read in the terminal after many lessons: a line for each, and what could not be done."""

from collections import Counter
from collections.abc import Sequence

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from balltrack.batch.night import Keep, LessonDone, lesson_name


def print_night(done: Sequence[LessonDone], keep: Keep) -> None:
    """Print what became of each lesson, every trouble, and where the records are."""
    console = Console(width=None if Console().is_terminal else 110, highlight=False)
    console.print(_table(done))
    troubles = [(each.place, problem) for each in done for problem in problems_of(each)]
    if troubles:
        console.print("\n[bold]What could not be done[/]")
        for place, problem in troubles:
            console.print(f"  {escape(lesson_name(place))}: {escape(problem)}", soft_wrap=True)
    if any(each.stopped for each in done):
        console.print("\nStopped; what was done is kept. The next run goes on from there.")
    console.print(f"\nResults are in each lesson's results/\n{escape(kept_words(keep))}".rstrip(), soft_wrap=True)


def problems_of(done: LessonDone) -> list[str]:
    """What went wrong in a lesson, one line each."""
    clips = list(done.outcome.problems) if done.outcome else []
    return [*([done.problem] if done.problem else []), *clips]


def kept_words(keep: Keep) -> str:
    """Where else the records are, without the password that an address may hold; empty where nowhere."""
    words = ["They are in the logbook too."] if keep.database else []
    words += [f"Parquet files, one a lesson, are in {keep.parquet}"] if keep.parquet else []
    return "\n".join(words)


def _table(done: Sequence[LessonDone]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold")
    table.add_column("Lesson", overflow="fold")
    for name in ("Clips", "Not changed", "Swings", "Measured", "Misses", "Without numbers"):
        table.add_column(name, justify="right")
    for each in done:
        table.add_row(escape(lesson_name(each.place)), *_counts(each))
    return table


def _counts(done: LessonDone) -> tuple[str, ...]:
    if done.outcome is None:
        return ("–",) * 6
    found = Counter(swing.outcome for swing in done.outcome.swings)
    counts = (found.total(), found["measured"], found["no_contact"], found["not_measured"])
    return tuple(str(count) for count in (len(done.outcome.lesson.clips), done.outcome.kept, *counts))
