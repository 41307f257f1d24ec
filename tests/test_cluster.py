"""Lessons on a cluster: a real scheduler, worker processes that are killed and added, a real server that speaks s3."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from click.testing import CliRunner

from balltrack.batch import LessonOutcome, Wish, measure_as
from balltrack.batch.cluster import Cluster, open_cluster, run_on
from balltrack.batch.depot import Depot, fetched, lesson_places, list_lesson, stub_version
from balltrack.batch.done import ClipDone
from balltrack.batch.night import Keep, LessonDone, measure_lessons, parquet_name
from balltrack.cli import main
from balltrack.errors import ClusterError, StorageError
from balltrack.lesson import Clip
from balltrack.measure import ClipResult
from balltrack.records.store import read_swings
from tests.conftest import without_words
from tests.records.conftest import server as server  # a PostgreSQL server, where one is installed
from tests.video.encode import ffmpeg

ROOT = Path(__file__).parents[1]
SAMPLE = ROOT / "sample_clips"
HIT = "clips/01-tee/hit.mp4"
SMALLER = 3  # the sample's pictures made so many times smaller: 640 x 360
NIGHT = "s3://academy/night"
PATIENCE_S = 600.0  # for a process to start on a very busy machine; on an idle one it takes two seconds


@pytest.fixture(scope="module")
def small_lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One hit of the sample lesson in small pictures, and moments of others in which nothing happens."""
    folder = tmp_path_factory.mktemp("small") / "robin"
    (folder / "clips" / "01-tee").mkdir(parents=True)
    lesson = tomlkit.parse(without_words((SAMPLE / "lesson.toml").read_text()))
    for mark in lesson["camera"]["marks"]:
        mark["pixel"] = [round((at + 0.5) / SMALLER - 0.5, 3) for at in mark["pixel"]]
    (folder / "lesson.toml").write_text(tomlkit.dumps(lesson))
    size = f"scale=iw/{SMALLER}:ih/{SMALLER}:flags=area"
    codec = ("-vf", size, "-c:v", "libx264", "-crf", "16", "-preset", "veryfast")
    clips = SAMPLE / "clips" / "01-tee"
    ffmpeg("-i", clips / "swing-01.mp4", *codec, folder / HIT)
    for name in ("swing-02", "swing-03"):
        ffmpeg("-i", clips / f"{name}.mp4", "-t", "0.25", *codec, folder / "clips" / "01-tee" / f"{name}.mp4")
    return folder


@pytest.fixture(scope="module")
def undisturbed(small_lesson: Path, tmp_path_factory: pytest.TempPathFactory) -> LessonOutcome:
    """The same measured on this machine, without a cluster."""
    folder = tmp_path_factory.mktemp("undisturbed") / "robin"
    copy_lesson(small_lesson, folder)
    return measure_as(folder, Wish(workers=1))


@pytest.fixture(scope="module")
def storage() -> Iterator[Any]:
    """A server on this machine that speaks as s3 does, and a file system that knows it, with a bucket."""
    from moto.server import ThreadedMotoServer

    moto = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    moto.start()
    host, port = moto.get_host_and_port()
    with pytest.MonkeyPatch.context() as patch:
        for name, value in {
            "AWS_ACCESS_KEY_ID": "none",
            "AWS_SECRET_ACCESS_KEY": "none",
            "AWS_DEFAULT_REGION": "us-east-1",
            "AWS_ENDPOINT_URL": f"http://{host}:{port}",
        }.items():
            patch.setenv(name, value)
        import fsspec

        system = fsspec.filesystem("s3")
        system.mkdir("academy")
        yield system
    moto.stop()


@dataclass
class Machines:
    """A scheduler and its workers, each a process as on a machine of its own."""

    folder: Path
    running: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)
    address: str = ""

    def start(self) -> None:
        told = self.folder / "scheduler.json"
        self._run("scheduler", "dask_scheduler", "--port", "0", "--scheduler-file", str(told))
        wait_until(told.exists, "the scheduler says where it is")
        wait_until(lambda: bool(told.read_text().strip()), "the scheduler has said it")
        self.address = json.loads(told.read_text())["address"]

    def add_worker(self, name: str) -> None:
        alone = ("--nthreads", "1", "--no-nanny", "--name", name)  # nobody starts it again when it is killed
        self._run(name, "dask_worker", self.address, *alone, "--local-directory", str(self.folder))

    def kill(self, name: str) -> None:
        self.running[name].send_signal(signal.SIGKILL)
        self.running[name].wait(PATIENCE_S)

    def stop(self) -> None:
        for process in self.running.values():
            process.kill()
            process.wait(PATIENCE_S)

    def _run(self, name: str, program: str, *words: str) -> None:
        command = [sys.executable, "-m", f"distributed.cli.{program}", *words, "--host", "127.0.0.1", "--no-dashboard"]
        with (self.folder / f"{name}.log").open("wb") as log:
            environment = {**os.environ, "PYTHONPATH": str(ROOT)}
            self.running[name] = subprocess.Popen(command, stdout=log, stderr=log, env=environment, cwd=self.folder)


@pytest.fixture(scope="module")
def machines(storage: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machines]:
    machines = Machines(tmp_path_factory.mktemp("machines"))
    machines.start()
    try:
        yield machines
    finally:
        machines.stop()


@pytest.fixture(scope="module")
def night(
    machines: Machines,
    storage: Any,
    small_lesson: Path,
    server: Any,
    tmp_path_factory: pytest.TempPathFactory,
) -> "Night":
    """A night on two workers: one is killed while it measures the hit, another is added then."""
    storage.put(str(small_lesson), "academy/night/robin", recursive=True)
    folder = tmp_path_factory.mktemp("shared") / "kim"  # a second lesson, wrong, on a folder that all share
    folder.mkdir()
    (folder / "lesson.toml").write_text("[player]\n")
    machines.add_worker("first")
    machines.add_worker("second")
    keep = Keep(server.new_database(), "s3://academy/parquet")
    with open_cluster(machines.address) as cluster:
        wait_until(lambda: cluster.workers == 2, "both workers are there")
        killer = Killer(cluster, machines)
        killer.start()
        done = measure_lessons((*lesson_places([f"{NIGHT}/*"]), str(folder)), cluster, Wish(), keep, tell_nobody)
        killer.join()
    return Night(done, keep, killer)


class Killer(threading.Thread):
    """Kills the worker that measures the hit, in the midst of it, and puts another in its place."""

    def __init__(self, cluster: Cluster, machines: Machines) -> None:
        super().__init__()
        self._cluster, self._machines = cluster, machines
        self.killed, self.then = "", ""  # who measured it first, and who after that

    def run(self) -> None:
        self.killed = self._wait_for_hit()
        time.sleep(0.3)  # the hit takes some seconds
        self._machines.kill(self.killed)
        self._machines.add_worker("third")
        self.then = self._wait_for_hit()

    def _wait_for_hit(self) -> str:
        found: list[str] = []

        def look() -> bool:
            names = {at: told["name"] for at, told in self._cluster.client.scheduler_info()["workers"].items()}
            for worker, keys in self._cluster.client.processing().items():
                if any(HIT in str(key) for key in keys) and names.get(worker, self.killed) != self.killed:
                    found.append(names[worker])
            return bool(found)

        wait_until(look, "a worker measures the hit")
        return found[0]


@dataclass
class Night:
    done: tuple[LessonDone, ...]
    keep: Keep
    killer: Killer


def tell_nobody(done: int, total: int, last: ClipDone | None) -> None:
    pass


def wait_until(holds: Callable[[], bool], what: str) -> None:
    until_s = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < until_s, f"waited in vain: {what}"
        time.sleep(0.05)


def copy_lesson(lesson: Path, folder: Path) -> None:
    for path in lesson.rglob("*"):
        if path.is_file() and "results" not in path.relative_to(lesson).parts:
            (folder / path.relative_to(lesson)).parent.mkdir(parents=True, exist_ok=True)
            (folder / path.relative_to(lesson)).write_bytes(path.read_bytes())


def test_a_worker_killed_in_the_midst_of_a_clip_costs_nothing_and_doubles_nothing(
    night: Night, undisturbed: LessonOutcome, storage: Any
) -> None:
    assert night.killer.killed in ("first", "second")
    assert night.killer.then not in ("", night.killer.killed)
    robin, kim = night.done
    assert robin.problem == ""
    assert robin.outcome is not None
    assert robin.outcome.problems == ()
    # Its truth is the program itself on one machine, undisturbed: nothing may depend on who measured.
    with storage.open("academy/night/robin/results/swings.jsonl", "rb") as file:
        assert file.read() == (undisturbed.results / "swings.jsonl").read_bytes()
    assert any(swing.outcome == "measured" for swing in undisturbed.swings)
    assert kim.outcome is None
    assert "lesson.toml" in kim.problem


def test_all_results_but_the_films_lie_where_the_lesson_lies(
    night: Night, undisturbed: LessonOutcome, storage: Any
) -> None:
    found = {path.removeprefix("academy/night/robin/results/") for path in storage.find("academy/night/robin/results")}
    local = {path.relative_to(undisturbed.results).as_posix() for path in undisturbed.results.rglob("*.*")}
    assert found == local | {"logbook_id.txt"}


def test_each_lesson_is_one_parquet_file_with_the_swings_of_its_records(night: Night, storage: Any) -> None:
    from pyarrow import parquet

    with storage.open(f"academy/parquet/{parquet_name(f'{NIGHT}/robin')}", "rb") as file:
        table = parquet.read_table(file)
    assert night.done[0].outcome is not None
    swings = night.done[0].outcome.swings
    assert table["swing"].to_pylist() == [swing.swing for swing in swings]
    assert table["exit_speed_mps"].to_pylist() == [swing.exit_speed_mps for swing in swings]
    assert set(table["lesson_folder"].to_pylist()) == {f"{NIGHT}/robin"}
    assert set(table["player"].to_pylist()) == {"Robin Example"}


def test_a_film_replaced_in_the_storage_is_another_version(night: Night, storage: Any, tmp_path: Path) -> None:
    depot = Depot(f"{NIGHT}/robin")
    depot.mirror(tmp_path / "before")
    name = "academy/night/spare/clips/01-tee/1.mp4"
    storage.pipe_file("academy/night/spare/lesson.toml", b"")
    versions = []
    for content in (b"a film", b"b film"):
        storage.pipe_file(name, content)
        with fetched(f"{NIGHT}/spare", "clips/01-tee/1.mp4") as (path, version):
            assert path.read_bytes() == content
        Depot(f"{NIGHT}/spare").mirror(tmp_path / content.decode())
        assert stub_version(tmp_path / content.decode() / "clips/01-tee/1.mp4") == version
        versions.append(version)
    assert versions[0] != versions[1]


def test_storage_that_holds_no_lesson_or_cannot_be_used_is_one_line(storage: Any, tmp_path: Path) -> None:
    with pytest.raises(StorageError, match=r"holds no lesson\.toml"):
        Depot("s3://academy/nowhere").mirror(tmp_path / "a")
    with pytest.raises(StorageError, match="nobucket"):
        list_lesson("s3://nobucket/x")
    with pytest.raises(StorageError, match="cannot be used"):
        list_lesson("gopher://academy/x")
    with pytest.raises(StorageError, match="fits no lesson"):
        lesson_places([f"{NIGHT}/zoe*"])


def measure_by_name(clip: Clip) -> ClipResult:
    """Stands in for the real work; the clip's name says what befalls it. At module level, so that workers find it."""
    if "deadly" in clip.name:
        with Path(clip.path.parent, "begun").open("a") as file:
            file.write("x")
        os.kill(os.getpid(), signal.SIGKILL)  # as the system does where memory ends
    return ClipResult(clip, (), (), "")


def test_a_clip_on_which_two_workers_die_is_set_aside_and_the_others_are_measured(tmp_path: Path) -> None:
    names = ["1.mp4", "deadly.mp4", *(f"{n}.mp4" for n in range(2, 12))]
    clips = [Clip(tmp_path / name, f"clips/01-tee/{name}", "01-tee", "tee") for name in names]
    with open_cluster("local", 2) as cluster:
        done = {each.clip.path.name: each for each in run_on(cluster)(clips, measure_by_name, 2)}
    assert sorted(done) == sorted(names)
    assert [name for name, each in done.items() if each.problem] == ["deadly.mp4"]
    assert "died on this clip" in done["deadly.mp4"].problem
    assert (tmp_path / "begun").read_text() == "xx"


def test_workers_of_another_version_are_refused_in_one_line(machines: Machines, tmp_path: Path) -> None:
    told = tmp_path / "balltrack-0.0.1.dist-info" / "METADATA"
    told.parent.mkdir()
    told.write_text("Metadata-Version: 2.1\nName: balltrack\nVersion: 0.0.1\n")
    other = replace(machines, folder=tmp_path, running={})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(f"{__name__}.ROOT", tmp_path)  # where that worker finds packages first
        other.add_worker("old")
    try:
        with pytest.raises(ClusterError, match=r"balltrack 0\.0\.1.*install"):
            wait_until(lambda: opens(machines.address), "the other version is seen")
    finally:
        other.stop()


def opens(address: str) -> bool:
    with open_cluster(address):
        return False


def test_the_command_says_in_one_line_what_needs_a_cluster_and_what_none_answers() -> None:
    run = CliRunner()
    several = run.invoke(main, ["measure", "a", "b"])
    assert (several.exit_code, "--cluster local" in several.output) == (2, True)
    address = run.invoke(main, ["measure", f"{NIGHT}/robin"])
    assert (address.exit_code, "is an address" in address.output) == (2, True)
    wrong = run.invoke(main, ["measure", "a", "--no-network", "--cluster", "nonsense://x"])
    assert (wrong.exit_code, wrong.output.count("\n")) == (1, 1)
    assert "no scheduler answers at nonsense://x" in wrong.output


def test_the_command_run_again_measures_only_what_is_new_and_doubles_nothing(
    night: Night, machines: Machines, small_lesson: Path, tmp_path: Path
) -> None:
    from balltrack.records.logbook.open import open_logbook
    from balltrack.records.logbook.read import lessons_of

    assert night.keep.database is not None
    assert night.keep.parquet is not None
    calm = tmp_path / "calm"  # on a folder that all machines share
    copy_lesson(small_lesson, calm)
    (calm / HIT).unlink()
    words = (calm / "lesson.toml").read_text()
    (calm / "lesson.toml").write_text(words.replace("Robin Example", "Kim Example"))
    where = ["--cluster", machines.address, "--database", night.keep.database, "--parquet", night.keep.parquet]
    run = CliRunner().invoke(main, ["measure", f"{NIGHT}/robin", str(calm), "--no-network", *where])
    assert run.exit_code == 0, run.output
    lines = [line.split() for line in run.output.splitlines()]
    assert ["robin", "3", "3", "1", "1", "0", "0"] in lines  # clips, not changed, swings, measured, misses, without
    assert ["calm", "2", "0", "0", "0", "0", "0"] in lines
    with open_logbook(night.keep.database) as logbook:
        lessons = {lesson.folder: lesson for lesson in lessons_of(logbook, None)}
    assert set(lessons) == {f"{NIGHT}/robin", str(calm)}
    assert night.done[0].outcome is not None
    assert lessons[f"{NIGHT}/robin"].swings == night.done[0].outcome.swings
    assert read_swings(calm / "results" / "swings.jsonl") == lessons[str(calm)].swings == ()
