"""The command line: parse, call, print. Slow imports stay inside the commands, so that help is there at once."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from balltrack import __version__
from balltrack.cluster_cli import check_alone, cluster_options, measure_on
from balltrack.errors import RecordError
from balltrack.exit_status import ALL_MEASURED, NONE_MEASURED, SOME_FAILED, STOPPED, WRONG_INPUT, Commands, one_line
from balltrack.logbook_cli import logbook

if TYPE_CHECKING:
    from balltrack.batch import LessonOutcome
    from balltrack.detect.network import Network

EXIT_STATUS = """\b
Exit status:
  0    every swing was measured, or is a miss
  1    the lesson, its marks or its results folder are wrong; one line says what
  2    the command was typed wrongly
  3    some clips or swings could not be measured; the table says why
  4    none could be measured
  130  stopped by Ctrl-C; what was done is kept"""


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="balltrack")
def main() -> None:
    """Measure batted balls from one phone on a tripod."""


@main.command(epilog=EXIT_STATUS)
@click.argument("lesson_dirs", metavar="LESSON_DIR...", nargs=-1, required=True)
@click.option(
    "--units",
    type=click.Choice(["us", "metric"]),
    default="us",
    show_default=True,
    help="Units of the table, the spreadsheet and the page.",
)
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Clips measured at the same time.  [default: one for each core]"
)
@click.option(
    "--weights",
    type=click.Path(path_type=Path),
    help="Other weights for the network that finds the ball: .onnx, or .pt where the training set is installed.",
)
@click.option("--no-network", is_flag=True, help="Find the ball by its motion alone.")
@click.option("--again", is_flag=True, help="Measure also the clips that have not changed since they were measured.")
@cluster_options
def measure(
    lesson_dirs: tuple[str, ...],
    units: Literal["us", "metric"],
    workers: int | None,
    weights: Path | None,
    no_network: bool,
    again: bool,
    cluster: str | None,
    **records: str | None,
) -> None:
    """Measure all swings of the lesson in LESSON_DIR.

    LESSON_DIR holds lesson.toml and clips/; the results go to LESSON_DIR/results. Clips that were measured before are
    measured again only where something has changed: the file, the lesson's settings, what was put right by hand. Ctrl-C
    stops; the next run goes on from there.
    """
    if no_network and weights:
        raise click.UsageError("--weights and --no-network contradict each other; give one of them")
    if cluster is None:
        check_alone(lesson_dirs, **records)
    with one_line():
        if cluster is None and (Path(lesson_dirs[0]) / "lesson.toml").is_file():
            from balltrack.nursery import begin

            begin()  # loads the program for workers while this process loads it for itself
        from balltrack.batch import Wish, measure_as
        from balltrack.terminal import ProgressLine, print_outcome

        wish = Wish(workers, units, None if no_network else _network(weights), again)
        if cluster is not None:
            sys.exit(measure_on(cluster, lesson_dirs, wish, **records))
        with ProgressLine() as progress:
            outcome = measure_as(Path(lesson_dirs[0]), wish, progress.show)
        print_outcome(outcome, units)
    sys.exit(exit_status(outcome))


@main.command()
@click.argument("lesson_dir", type=click.Path(path_type=Path))
@click.option("--units", type=click.Choice(["us", "metric"]), help="Units of the review.  [default: as measured]")
@click.option("--pdf/--no-pdf", default=True, show_default=True, help="Also as review.pdf, to print.")
@click.option("--clips/--no-clips", default=True, show_default=True, help="Also a film of each swing; takes longest.")
def review(lesson_dir: Path, units: Literal["us", "metric"] | None, pdf: bool, clips: bool) -> None:
    """Make the take-home review of the measured lesson in LESSON_DIR again, with the coach's words in lesson.toml.

    It goes to LESSON_DIR/results/review: index.html opens on any phone without network, review.pdf prints, the films
    lie in clips/. Words are typed on the page of balltrack desk, or into lesson.toml.
    """
    with one_line("Stopped; make the review again."):
        from balltrack.review.make import Wish, make_review

        made = make_review(lesson_dir, Wish(units, pdf, clips), _tell_filmed)
    for notice in made.notices:
        click.echo(notice, err=True)
    click.echo("\n".join(str(path) for path in made.files))


def _tell_filmed(done: int, total: int) -> None:
    if sys.stderr.isatty():
        click.echo(f"\rFilming the swings: {done} of {total} clips", err=True, nl=done == total)


@main.command()
@click.argument("lesson_dirs", metavar="LESSON_DIR...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Where new weights go if they are better.  [default: where balltrack measure finds them by itself]",
)
@click.option("--epochs", type=click.IntRange(1, 1000), default=12, show_default=True, help="How often to go through.")
@click.option("--device", default="cpu", show_default=True, help="cpu, or the number of a GPU.")
def train(lesson_dirs: tuple[Path, ...], out: Path | None, epochs: int, device: str) -> None:
    """Teach the network that finds the ball by your own lessons.

    Learns from the tracks of measured lessons and from what was corrected by hand, holds every fifth swing back, and
    takes the new weights only if they are better on those. Needs the training set: pip install 'balltrack[train]'.
    """
    with one_line("Stopped; the weights in use stay."):
        from balltrack.training.teach import Wish, teach, words

        click.echo(words(teach(lesson_dirs, Wish(out, epochs, device), click.echo)))


@main.command()
@click.argument("lesson_dir", type=click.Path(path_type=Path))
@click.option("--no-browser", is_flag=True, help="Print the address only.")
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port of the page.  [default: any free one]")
def desk(lesson_dir: Path, no_browser: bool, port: int) -> None:
    """Set up the lesson in LESSON_DIR in the browser: its words, its clips, the marks of the field, its swings.

    LESSON_DIR may hold nothing but clips. The page answers to this computer only, at the address that is printed, until
    Ctrl-C; nothing leaves the computer.
    """
    with one_line():
        from balltrack.desk.serve import serve

        try:
            serve(lesson_dir, port, not no_browser, lambda address: click.echo(f"{address}\nCtrl-C ends it."))
        except KeyboardInterrupt:  # how it is meant to end
            click.echo("Stopped.", err=True)


@main.command()
@click.option(
    "--from",
    "lesson",
    type=click.Path(path_type=Path),
    metavar="LESSON_DIR",
    help="Take ball, field, batter and lens from a lesson folder or its lesson.toml.",
)
@click.option("--ball", type=click.Choice(["softball-12", "softball-11", "baseball"]), help="[default: softball-12]")
@click.option("--bats", type=click.Choice(["right", "left"]), help="The batter's hand.  [default: right]")
@click.option("--delivery", type=click.Choice(["tee", "toss", "live"]), help="[default: tee]")
@click.option("--exit-speed", type=click.FloatRange(10, 250), help="Usual exit speed, mph or km/h.")
@click.option("--base-path", type=click.FloatRange(5, 130), help="From base to base, ft or m.")
@click.option(
    "--stopped-at",
    type=click.FloatRange(1, 600),
    metavar="FENCE",
    help="Where a fence or a net stops the ball, ft or m from the plate.",
)
@click.option(
    "--fov",
    "fov_deg",
    type=click.FloatRange(20, 130),
    help="Degrees that the lens sees across.  [default: 62, a phone's main lens]",
)
@click.option(
    "--lens-error",
    "lens_error_pct",
    type=click.FloatRange(0.05, 30),
    help="Per cent to which the focal length is known, 0.3 if calibrated.  [default: from the marks only]",
)
@click.option("--lines", type=click.IntRange(480, 4320), help="Height of the picture in pixels.  [default: 1080]")
@click.option(
    "--fps", "frames_per_s", type=click.FloatRange(24, 960), default=60, show_default=True, help="Frames a second."
)
@click.option(
    "--shutter",
    type=click.FloatRange(30, 20000),
    default=1000,
    show_default=True,
    help="Exposure 1/SHUTTER s: sun 2000, clouds 500, lamps 120.",
)
@click.option(
    "--screen", is_flag=True, help="A screen stands before the phone: places beside the plate are allowed too."
)
@click.option(
    "--units", type=click.Choice(["us", "metric"]), default="us", show_default=True, help="Units of all this."
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="The picture, .png or .svg.  [default: plan.png, in LESSON_DIR if given]",
)
def plan(**entered: Any) -> None:
    """Plan where to stand the tripod: expected error by place, safe zones, and what to check before a lesson."""
    with one_line():
        from balltrack.planning.make import Entered, make_plan

        click.echo(make_plan(Entered(**entered)))


SPLIT_STATUS = """\b
Exit status:
  0    every swing that was found has its clip
  1    the recording, lesson.toml or the folder is wrong; one line says what
  2    the command was typed wrongly
  3    some swings could not be cut; a line each says why
  4    no swing was found, or none could be cut
  130  stopped by Ctrl-C; clips that were cut are kept, and not cut again"""


@main.command(epilog=SPLIT_STATUS)
@click.argument("recording", type=click.Path(path_type=Path))
@click.argument("lesson_dir", type=click.Path(path_type=Path))
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Parts looked at side by side.  [default: one for each core]"
)
def split(recording: Path, lesson_dir: Path, workers: int | None) -> None:
    """Cut the swings out of RECORDING, one film of a whole lesson, into LESSON_DIR/clips.

    A swing is a surge of motion at the plate, with the bat's crack or without it (a miss). Clips are copied, not
    encoded again; what is there stays, and nothing is cut twice. Blocks are told by pauses of 40 seconds or more, or by
    a time table in lesson.toml: [[recording.blocks]] with name = "01-tee" and start = "0:00".
    """
    with one_line("Stopped; clips that were cut are kept."):
        from balltrack.recording.split import split_recording
        from balltrack.recording.wording import lines

        done = split_recording(recording, lesson_dir, workers, _tell_looked)
        click.echo("\n".join(lines(done)))
    swings = sum(len(block.swings) for block in done.blocks)
    sys.exit(NONE_MEASURED if not swings else SOME_FAILED if done.problems else ALL_MEASURED)


def _tell_looked(done_s: float, total_s: float) -> None:
    if sys.stderr.isatty():
        words = f"\rLooking through the recording: {done_s / 60:.0f} of {total_s / 60:.0f} minutes"
        click.echo(words, err=True, nl=done_s >= total_s)


@main.command(
    epilog="""\b
Exit status:
  0    every clip is fit to measure
  1    none is, or there is no clip
  3    some are not"""
)
@click.argument("clips", metavar="CLIP...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--units", type=click.Choice(["us", "metric"]), default="us", show_default=True, help="Units of what is said."
)
def check(clips: tuple[Path, ...], units: Literal["us", "metric"]) -> None:
    """Say of each CLIP what it is, whether it is fit to measure, how well, and what to change next time.

    A CLIP may be a folder: all clips in it are looked at. Nothing is measured or written.
    """
    with one_line():
        from balltrack.check.make import check_files

        report = check_files(clips, units, _tell_checked)
        click.echo(report.words)
    if report.fit < report.total:
        sys.exit(SOME_FAILED if report.fit else WRONG_INPUT)


def _tell_checked(done: int, total: int) -> None:
    if sys.stderr.isatty() and total > 1:
        click.echo(f"\rLooking at the clips: {done} of {total}", err=True, nl=done == total)


@main.group()
def lens() -> None:
    """Calibrate a phone's lens from a film of a printed board."""


@lens.command("board")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--paper", type=click.Choice(["a4", "letter", "a3"]), default="a4", show_default=True, help="The printer's paper."
)
def lens_board(file: Path, paper: str) -> None:
    """Write the board to print into FILE, .pdf or .svg, at true scale.

    A larger board (a3) can be filmed from farther off, where the phone focuses as it does on the field.
    """
    if file.suffix.lower() not in (".pdf", ".svg"):
        raise click.UsageError(f"{file.name} must end in .pdf or .svg")
    with one_line():
        from balltrack.camera.board_sheet import PAPERS, board_sheet, write_sheet

        try:
            write_sheet(board_sheet(PAPERS[paper]), file)
        except OSError as error:
            raise RecordError(f"{file} cannot be written: {error.strerror or error}") from None
    click.echo(f"{file}: print it at 100 % on {paper.capitalize()} paper, and check both rulers: 100 mm each.")


@lens.command("film")
@click.argument("clips", metavar="CLIP...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--square-mm",
    type=click.FloatRange(1, 1000),
    default=25.0,
    show_default=True,
    help="Side of a square. It tells how far off the board was, and nothing else.",
)
@click.option("--name", help="A name for the phone, where its clips do not say what phone it is.")
@click.option("--focus-locked", is_flag=True, help="The focus was locked as on the field before the board was filmed.")
@click.option("--chessboard", metavar="9x6", help="A plain chessboard instead, by its inner corners across and down.")
def lens_film(
    clips: tuple[Path, ...], square_mm: float, name: str | None, focus_locked: bool, chessboard: str | None
) -> None:
    """Calibrate the phone that filmed the board in CLIP..., and keep it for all lessons in that mode.

    Film as on the field: same lens, zoom, frame rate and size, stabilisation off. A phone that seeks its focus changes
    its field of view: lock focus on something as far away as the field's plate, then film the board, from as far as it
    stays sharp and large, for 30 seconds or more. Hold it still for a second in each of 15 ways: tilted by 30 to 45
    degrees left, right, up and down, and in every corner of the picture.
    """
    with one_line():
        from datetime import date

        from balltrack.camera.board import PrintedBoard, chessboard_of
        from balltrack.lesson.lens_film import film_lens
        from balltrack.lesson.lens_store import check_named, keep, words_of

        check_named(clips[0], name)
        board = chessboard_of(chessboard, square_mm / 1000) if chessboard else PrintedBoard(square_mm / 1000)
        filmed = film_lens(clips, board, focus_locked)
        click.echo(words_of(filmed, keep(filmed, name, date.today())))


@lens.command("list")
def lens_list() -> None:
    """List the calibrations that this machine keeps, each with the name by which `use` takes it."""
    with one_line():
        from balltrack.lesson.lens_store import kept_lenses, lens_folder

        kept = kept_lenses()
        click.echo("\n".join(f"{each.name}: {each.words}" for each in kept) or f"None is kept in {lens_folder()}.")


@lens.command("use")
@click.argument("name")
@click.argument("lesson_dir", type=click.Path(path_type=Path))
def lens_use(name: str, lesson_dir: Path) -> None:
    """Write the calibration NAME into the lesson in LESSON_DIR, as lens.toml.

    Only for clips that do not say which phone filmed them: of the others the calibration is found by itself.
    """
    with one_line():
        from balltrack.lesson.lens_use import use_lens

        click.echo(use_lens(name, lesson_dir))


main.add_command(logbook)


def _network(weights: Path | None) -> "Network":
    from balltrack.detect.network import load_network

    if weights and weights.suffix == ".pt":
        from balltrack.training.yolo import as_onnx

        weights = as_onnx(weights)
    return load_network(weights)


def exit_status(outcome: "LessonOutcome") -> int:
    """All, some or none: a miss that was seen as one counts as measured."""
    if outcome.stopped:
        return STOPPED
    known = [swing for swing in outcome.swings if swing.outcome != "not_measured"]
    if not known:
        return NONE_MEASURED
    return ALL_MEASURED if len(known) == len(outcome.swings) else SOME_FAILED


if __name__ == "__main__":
    main()
