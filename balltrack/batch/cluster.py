"""Clips on a cluster: a dask.distributed scheduler hands them to its workers, on this machine or on many.

Paths go out, records come back: a worker opens a clip where it lies on shared storage. Workers write nothing; who gives
out the work keeps each result as it comes. So a worker that is lost, or believed lost, can double nothing: its clips
are measured by another, and one answer a clip is taken.
"""

import contextlib
import faulthandler
import io
import logging
import os
import pickle
import queue
import threading
import uuid
import zlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from balltrack import __version__
from balltrack.batch.depot import fetched, stub_version
from balltrack.batch.done import MOST_TRIES, ClipDone, MeasureClip, RunClips, content_hash, given_up, measured_or_not
from balltrack.batch.limits import most_s
from balltrack.detect.network import Network, own_weights, shipped_weights
from balltrack.errors import ClusterError, DetectorError, MeasureError, StorageError
from balltrack.lesson import Clip

if TYPE_CHECKING:
    from distributed import Client, Future

LOCAL = "local"
LOOK_S = 0.2  # so often is asked whether a person wants it stopped
CONNECT_S = 15.0
MOST_LOST = 5  # times that a clip is given out again though not so many workers died on it
TRIES = "balltrack-tries"  # under this name the scheduler keeps how many workers died on each clip
INSTALL = "pip install 'balltrack[cluster]'"
SAME_EVERYWHERE = f"install this version of balltrack ({__version__}) with its cluster part on each worker's machine"


@dataclass(frozen=True, slots=True)
class Cluster:
    """An opened cluster."""

    client: "Client"
    words: str  # what it is, for a person
    stop: threading.Event  # set: give up what is not done

    @property
    def workers(self) -> int:
        """How many clips it works on at the same time just now."""
        return sum(self.client.nthreads().values())


@contextlib.contextmanager
def open_cluster(address: str, workers: int | None = None) -> Iterator[Cluster]:
    """Connect to a scheduler, or start one with workers on this machine, and let go of it afterwards.

    Parameters
    ----------
    address : str
        ``local``, or that of a scheduler, such as ``tcp://10.0.0.5:8786``.
    workers : int, optional
        Worker processes of a local one; as many as there are cores where not given.

    Raises
    ------
    ClusterError
        If there is no such scheduler, its workers have another version of this program, or dask is not installed.
    """
    try:
        import distributed
    except ImportError:
        raise ClusterError(f"--cluster needs dask.distributed: {INSTALL}") from None
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what matters is said in a line of ours
    with contextlib.ExitStack() as closing:
        target: Any = address
        if address == LOCAL:
            target = closing.enter_context(_local(workers))
        try:
            client = distributed.Client(target, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
            raise ClusterError(
                f"no scheduler answers at {address} ({_short(error)}); start one with dask scheduler, or give "
                "--cluster local"
            ) from None
        closing.enter_context(contextlib.closing(client))
        _check_versions(client)
        yield Cluster(client, "this machine" if address == LOCAL else address, threading.Event())


@contextlib.contextmanager
def _local(workers: int | None) -> Iterator[Any]:
    import dask
    import distributed

    with (
        dask.config.set({"logging.distributed": "critical"}),  # of the workers
        distributed.LocalCluster(
            n_workers=workers or _cores(),
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address="127.0.0.1:0",  # any free port: the usual one may be taken
            silence_logs="CRITICAL",
        ) as local,
    ):
        yield local


def run_on(cluster: Cluster, address: str = "") -> RunClips:
    """What takes the place of ``run_clips`` for one lesson; clips at an ``address`` are fetched by their workers."""

    def run(clips: Sequence[Clip], measure: MeasureClip, _workers: int) -> Iterator[ClipDone]:
        with _Run(cluster, address, measure) as started:
            yield from started.each_done(clips)

    return run


class _Run:
    """The clips of one lesson, given out to a cluster."""

    def __init__(self, cluster: Cluster, address: str, measure: MeasureClip) -> None:
        self._cluster, self._address = cluster, address
        self._name = uuid.uuid4().hex
        self._shared = self._client.submit(unpacked, packed(measure), key=f"balltrack-setup-{self._name}")
        self._clips: dict[Future, Clip] = {}
        self._ended: queue.SimpleQueue[Future] = queue.SimpleQueue()
        self._lost = Counter[str]()  # how often the scheduler gave a clip up

    @property
    def _client(self) -> "Client":
        return self._cluster.client

    def __enter__(self) -> "_Run":
        return self

    def __exit__(self, *_: object) -> None:
        with contextlib.suppress(Exception):  # the scheduler may be what is gone
            self._client.cancel([*self._clips, self._shared], force=True)
            self._client.set_metadata([TRIES, self._name], {})

    def each_done(self, clips: Sequence[Clip]) -> Iterator[ClipDone]:
        """Give all clips out, and yield each as it is done."""
        for clip in clips:
            self._give_out(clip)
        while self._clips:
            future = self._next_ended()
            clip = self._clips.pop(future)
            done = self._done(clip, future)
            future.release()
            if done is None:
                self._give_out(clip)
            else:
                yield done

    def _give_out(self, clip: Clip) -> None:
        key = f"balltrack-clip-{self._name}-{clip.name}-{self._lost[clip.name]}"
        place = Place(self._address, stub_version(clip.path) if self._address else "")
        tries = [TRIES, self._name, clip.name]
        future = self._client.submit(attempt, clip, self._shared, place, tries, key=key, retries=0)
        self._clips[future] = clip
        future.add_done_callback(self._ended.put)

    def _next_ended(self) -> "Future":
        while True:
            if self._cluster.stop.is_set():
                raise KeyboardInterrupt
            with contextlib.suppress(queue.Empty):
                return self._ended.get(timeout=LOOK_S)

    def _done(self, clip: Clip, future: "Future") -> ClipDone | None:
        """What became of a clip; None where it should be given out again."""
        from distributed import KilledWorker

        where = self._cluster.words
        if future.status in ("cancelled", "lost"):
            self._lost[clip.name] += 1
            if self._client.status == "running" and self._lost[clip.name] < MOST_LOST:  # what its worker had is lost
                return None
            raise ClusterError(f"the scheduler of {where} went away; what was done is kept: run the command again")
        error = future.exception() if future.status == "error" else None
        if error is None:
            return _as_here(clip, cast(ClipDone, future.result()))
        self._lost[clip.name] += 1
        if isinstance(error, OSError) and self._lost[clip.name] < MOST_LOST:  # its worker lost touch with the scheduler
            return None
        if not isinstance(error, KilledWorker):  # `attempt` raises nothing of its own
            remedy = "" if isinstance(error, MeasureError) else f"; {SAME_EVERYWHERE}"
            raise ClusterError(f"the workers of {where} cannot do this: {_short(error)}{remedy}")
        # Perhaps it only waited on workers that died: of those clips the scheduler thinks the same.
        deaths = self._client.get_metadata([TRIES, self._name, clip.name], 0)
        return given_up(clip) if deaths >= MOST_TRIES or self._lost[clip.name] >= MOST_LOST else None


@dataclass(frozen=True, slots=True)
class Place:
    """Where a worker finds a clip."""

    address: str  # of its lesson on shared storage; empty where the clip's path is the worker's too
    version: str  # that it should have there; empty where any will do


def attempt(clip: Clip, measure: MeasureClip, place: Place, tries: list[str]) -> ClipDone:
    """Measure one clip, on a worker, unless workers have died on it before. Never raises for what is in a clip."""
    import cv2
    from distributed import get_client

    scheduler = get_client()
    deaths = scheduler.get_metadata(tries, 0)
    if deaths >= MOST_TRIES:
        return given_up(clip)
    scheduler.set_metadata(tries, deaths + 1)  # until it is done: whoever dies now cannot say it any more
    cv2.setNumThreads(1)
    try:
        return _measured_at(place, clip, measure)
    finally:
        scheduler.set_metadata(tries, deaths)  # what is done may have to be done again: its worker dies on another clip


def _measured_at(place: Place, clip: Clip, measure: MeasureClip) -> ClipDone:
    if not place.address:
        return _in_time(clip, measure)
    try:
        with fetched(place.address, clip.name) as (path, version):
            done = _in_time(replace(clip, path=path), measure)
            return done if version and place.version in ("", version) else replace(done, content="")
    except StorageError as error:
        return ClipDone(clip, None, str(error))


def _in_time(clip: Clip, measure: MeasureClip) -> ClipDone:
    """Measure a clip; where it takes far too long for its size, end the process: that counts as a try.

    A worker works in a thread, which nothing else can end.
    """
    size_mb = clip.path.stat().st_size / 1e6 if clip.path.exists() else 0.0
    with open(os.devnull, "w") as nowhere:  # noqa: PTH123  # a device, not a file
        faulthandler.dump_traceback_later(2 * most_s(size_mb), exit=True, file=nowhere)
        try:
            return measured_or_not(clip, measure)
        finally:
            faulthandler.cancel_dump_traceback_later()


def _as_here(clip: Clip, done: ClipDone) -> ClipDone:
    """As if it had been measured here: by this machine's path, and known by what stands here for the film."""
    stands_in = bool(stub_version(clip.path)) and bool(done.content)
    content = content_hash(clip.path) if stands_in else done.content
    return replace(done, clip=clip, result=done.result and replace(done.result, clip=clip), content=content)


def packed(measure: MeasureClip) -> bytes:
    """What to do with a clip, as it goes to the workers once a lesson; weights go by name, not with it."""
    file = io.BytesIO()
    _Packer(file).dump(measure)
    return zlib.compress(file.getvalue(), 1)


def unpacked(packed: bytes) -> MeasureClip:
    """The same, on a worker. Raises DetectorError where the worker does not have the same weights."""
    return cast(MeasureClip, _Unpacker(io.BytesIO(zlib.decompress(packed))).load())


class _Packer(pickle.Pickler):
    def persistent_id(self, obj: object) -> tuple[str, str] | None:
        return (str(obj.path), obj.digest) if isinstance(obj, Network) else None


class _Unpacker(pickle.Unpickler):
    def persistent_load(self, pid: tuple[str, str]) -> Network:
        return _network(*pid)


@cache
def _network(path: str, digest: str) -> Network:
    """The network of these weights, opened once a process: at the same path, or where the package has its own."""
    for candidate in (Path(path), shipped_weights(), own_weights()):
        if candidate.is_file() and (network := Network(candidate)).digest == digest:
            return network
    raise DetectorError(f"the weights {path} are not on this worker; put them at that path on every machine")


def _check_versions(client: "Client") -> None:
    """Refuse workers that would measure otherwise. Those that come later are taken at their word."""
    found = client.get_versions(packages=["balltrack"])
    here = found["client"]["packages"]["balltrack"]
    for worker, told in found["workers"].items():
        version = told and told["packages"].get("balltrack")
        if version != here:
            has = f"balltrack {version}" if version else "no balltrack"
            raise ClusterError(f"the worker {worker} has {has}, here it is {here}; {SAME_EVERYWHERE}")


def _short(error: BaseException) -> str:
    words = " ".join(str(error).split()) or type(error).__name__
    return words if len(words) < 200 else f"{words[:200]}…"


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
