"""The commands of the logbook: parse, call, print. Slow imports stay inside the commands."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from balltrack.exit_status import one_line

if TYPE_CHECKING:
    from balltrack.records.logbook.add import Added
    from balltrack.records.logbook.entry import LessonEntry
    from balltrack.records.table import Units
    from balltrack.review.history import Series

UNTOUCHED = "Stopped; the logbook is whole."
CHART_ENDINGS = (".png", ".svg")
DAY_SOURCES = {
    "stated": "",
    "clips": "by the clips' own clock",
    "files": "by the files' dates: the clips tell none; give date under [lesson] in lesson.toml",
}

database = click.option(
    "--database",
    envvar="BALLTRACK_DATABASE",
    metavar="URL",
    help="A file, or postgresql://user@server/database.  [default: BALLTRACK_DATABASE, else your data folder]",
)
units_option = click.option(
    "--units", type=click.Choice(["us", "metric"]), default="us", show_default=True, help="Units of the tables."
)


@click.group()
def logbook() -> None:
    """Keep players, lessons and swings over months.

    The logbook holds numbers and names, no pictures. It lies on this machine, unless --database says otherwise; videos
    of people stay in the lesson folders. A player can be exported whole or erased whole.
    """


@logbook.command()
@click.argument("lesson_dirs", metavar="LESSON_DIR...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--player", metavar="PLAYER", help="Whose lesson it is, by code or name, whatever lesson.toml says.")
@click.option("--new-player", is_flag=True, help="Somebody new, though the logbook has a player of that name.")
@database
def add(lesson_dirs: tuple[Path, ...], player: str | None, new_player: bool, database: str | None) -> None:
    """Add measured lessons, or bring what the logbook has of them up to date.

    A lesson that is known by its clips and by an id in its results is never there twice.
    """
    if player and new_player:
        raise click.UsageError("--player and --new-player contradict each other; give one of them")
    with one_line(UNTOUCHED):
        from balltrack.records.logbook.add import PlayerWish, add_lesson
        from balltrack.records.logbook.open import open_logbook
        from balltrack.review.entry import entry_of

        with open_logbook(database) as opened:
            for folder in lesson_dirs:
                entry = entry_of(folder)
                click.echo(_added_words(entry, add_lesson(opened, entry, PlayerWish(player, new_player))))


def _added_words(entry: "LessonEntry", added: "Added") -> str:
    who = f"{added.player.name} ({added.player.code})"
    day = f"lesson of {entry.held_on}"
    if DAY_SOURCES[entry.date_source]:
        day += f" ({DAY_SOURCES[entry.date_source]})"
    before = "" if added.swings_before is None else f", in place of {_count(added.swings_before, 'swing')}"
    words = f"{who}: {day}, {_count(added.swings, 'swing')}{before}; {_count(added.player_lessons, 'lesson')} in all."
    if not added.id_kept:
        words += f"\n{entry.folder} cannot be written: the lesson will be known again by its clips alone."
    return words


@logbook.command("list")
@database
def list_players(database: str | None) -> None:
    """List the players, each with the code by which the other commands take it."""
    with one_line(UNTOUCHED):
        from balltrack.records.logbook.open import open_logbook
        from balltrack.records.logbook.read import players

        with open_logbook(database) as opened:
            lines = players(opened)
            place = opened.place
        if not lines:
            click.echo("The logbook is empty; balltrack logbook add LESSON_DIR puts a measured lesson in.")
        for line in lines:
            span = f"{line.first}" if line.first == line.last else f"{line.first} to {line.last}"
            counts = f"{_count(line.lessons, 'lesson')}, {_count(line.swings, 'swing')}"
            click.echo(f"{line.player.code}: {line.player.name}, {counts}, {span}")
        click.echo(f"It lies in {place}.")


@logbook.command()
@click.argument("player")
@units_option
@click.option(
    "--chart",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Draw the exit speed lesson by lesson too, into a .png or .svg.",
)
@database
def show(player: str, units: "Units", chart: Path | None, database: str | None) -> None:
    """Show a player's lessons and what changed over them. PLAYER is a code or a name."""
    if chart and chart.suffix.lower() not in CHART_ENDINGS:
        raise click.UsageError(f"{chart.name} must end in {' or '.join(CHART_ENDINGS)}")
    with one_line(UNTOUCHED):
        from balltrack.logbook_terminal import print_history
        from balltrack.records.logbook.open import open_logbook
        from balltrack.records.logbook.read import lessons_of
        from balltrack.review.history import series_of

        with open_logbook(database) as opened:
            lessons = lessons_of(opened, player)
        series = series_of(lessons)
        print_history(lessons, series, units)
        if chart:
            _write_chart(chart, lessons[0].player.name, series, units)


def _write_chart(file: Path, player: str, series: "Sequence[Series]", units: "Units") -> None:
    from balltrack.records.atomic import write_atomic
    from balltrack.review.history_chart import draw_history_chart
    from balltrack.review.style import chart_png, chart_svg

    figure = draw_history_chart(player, series, units)
    write_atomic(file, chart_png(figure) if file.suffix.lower() == ".png" else chart_svg(figure))
    click.echo(f"\nThe chart is in {file}")


@logbook.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--player", metavar="PLAYER", help="Only this player, by code or name.  [default: all]")
@database
def export(file: Path, player: str | None, database: str | None) -> None:
    """Write swings into FILE: .csv, .parquet or .jsonl, SI units, a row for each swing."""
    with one_line(UNTOUCHED):
        from balltrack.records.logbook.export import export as write
        from balltrack.records.logbook.open import open_logbook
        from balltrack.records.logbook.read import lessons_of

        with open_logbook(database) as opened:
            lessons = lessons_of(opened, player)
        swings = write(file, lessons)
        click.echo(f"{file}: {_count(swings, 'swing')} of {_count(len(lessons), 'lesson')}.")


@logbook.command()
@click.argument("player")
@click.option("--lesson", metavar="ID", help="Only this lesson, by the beginning of its id, as show lists it.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@database
def erase(player: str, lesson: str | None, yes: bool, database: str | None) -> None:
    """Erase a player, with all lessons and swings, from the logbook. PLAYER is a code or a name.

    Only the logbook's own rows go; its file is written anew without them. Lesson folders with their videos and results
    stay where they are, and so do a server's backups: those are yours to delete.
    """
    with one_line(UNTOUCHED):
        from balltrack.records.logbook.erase import erase as take_out
        from balltrack.records.logbook.open import open_logbook
        from balltrack.records.logbook.read import lessons_of

        with open_logbook(database) as opened:
            lessons = lessons_of(opened, player)
            what = f"the lesson {lesson}" if lesson else _count(len(lessons), "lesson")
            if not yes:
                click.confirm(f"Erase {what} of {lessons[0].player.name} from {opened.place}?", abort=True)
            erased = take_out(opened, player, lesson)
        click.echo(f"Erased: {_count(len(erased.folders), 'lesson')} of {erased.player.name}.")
        click.echo(_still_there(erased.folders))


def _still_there(folders: Sequence[str]) -> str:
    there = [folder for folder in folders if Path(folder).exists()]
    if not there:
        return "The lesson folders are not on this machine any more."
    return "Videos and results are still in:\n" + "\n".join(f"  {folder}" for folder in there)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
