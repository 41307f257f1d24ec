"""Measuring on a cluster: the options of ``balltrack measure`` for it, and what they do."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from balltrack.exit_status import ALL_MEASURED, NONE_MEASURED, SOME_FAILED, STOPPED, WRONG_INPUT

if TYPE_CHECKING:
    from balltrack.batch import Wish
    from balltrack.batch.night import LessonDone

ADDRESS_WORDS = (
    "Measure on a cluster: the address of a dask scheduler, such as tcp://10.0.0.5:8786, or local to start one on this "
    "machine. LESSON_DIR may then be several, at the same path on all machines, or addresses such as "
    "s3://bucket/lessons/*."
)


def cluster_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of a cluster to a command."""
    for option in (
        click.option(
            "--parquet", metavar="PLACE", help="With --cluster: a Parquet file a lesson, to a folder or an address."
        ),
        click.option(
            "--database",
            metavar="URL",
            help="With --cluster: add each lesson to this logbook, a file or postgresql://user@server/database.",
        ),
        click.option("--cluster", metavar="ADDRESS", help=ADDRESS_WORDS),
    ):
        command = option(command)
    return command


def check_alone(places: Sequence[str], database: str | None, parquet: str | None) -> None:
    """Refuse what only a cluster does."""
    if len(places) > 1:
        raise click.UsageError("several lessons at once need --cluster; --cluster local measures them on this machine")
    if database or parquet:
        raise click.UsageError("--database and --parquet go with --cluster; else see balltrack logbook --help")
    if "://" in places[0]:
        raise click.UsageError(f"{places[0]} is an address; those need --cluster, which may be local")


def measure_on(cluster: str, words: Sequence[str], wish: "Wish", database: str | None, parquet: str | None) -> int:
    """Measure lessons on a cluster and print what became of them; returns the exit status.

    Raises
    ------
    MeasureError
        If the cluster, the logbook or the only lesson cannot be used.
    """
    from balltrack.batch.cluster import open_cluster
    from balltrack.batch.depot import lesson_places
    from balltrack.batch.night import Keep, measure_lessons
    from balltrack.errors import MeasureError
    from balltrack.night_terminal import kept_words, print_night
    from balltrack.terminal import ProgressLine, print_outcome

    places, keep = lesson_places(words), Keep(database, parquet)
    with open_cluster(cluster, wish.workers) as opened:
        click.echo(f"{opened.words}: {_count(opened.workers)}", err=True)
        with ProgressLine() as progress:
            done = measure_lessons(places, opened, replace(wish, workers=None), keep, progress.show)
    only = done[0] if len(done) == 1 else None
    if only and only.outcome is None and not only.stopped:
        raise MeasureError(only.problem)
    if only and only.outcome:
        print_outcome(only.outcome, wish.units, f"{only.place}/results")
        if words_kept := kept_words(keep):
            click.echo(words_kept)
        if only.problem:
            click.echo(only.problem, err=True)
    else:
        print_night(done, keep)
    return status_of(done)


def status_of(done: Sequence["LessonDone"]) -> int:
    """All, some or none: a miss that was seen as one counts as measured."""
    outcomes = [each.outcome for each in done if each.outcome]
    if any(each.stopped for each in done):
        return STOPPED
    if not outcomes:
        return WRONG_INPUT
    swings = [swing for outcome in outcomes for swing in outcome.swings]
    known = [swing for swing in swings if swing.outcome != "not_measured"]
    if not known:
        return NONE_MEASURED
    whole = len(known) == len(swings) and not any(each.problem for each in done)
    return ALL_MEASURED if whole else SOME_FAILED


def _count(workers: int) -> str:
    if not workers:
        return "no worker yet; waiting for the first"
    return f"{workers} clips at the same time" if workers > 1 else "one clip at a time"
