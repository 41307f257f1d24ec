"""The stages of measuring one clip, timed while it is measured: each without what it calls that is a stage itself."""

import functools
import importlib
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

Times = dict[str, float]  # processor seconds by title


@dataclass(frozen=True, slots=True)
class Stage:
    """A part of measuring, by the name that its caller looks up."""

    title: str
    module: str
    name: str  # of a function, or of a class and its method


STAGES = (
    Stage("decoding", "balltrack.video.frames", "FrameReader.__next__"),
    Stage("sound", "balltrack.take", "read_sound"),
    Stage("cracks", "balltrack.take", "find_onsets"),
    Stage("keeping frames", "balltrack.video.shelf", "Shelf.add"),
    Stage("watching for a swing", "balltrack.take", "StirMeter.add"),
    Stage("empty field", "balltrack.track.search", "median_background"),
    Stage("motion", "balltrack.detect.motion", "find_candidates"),
    Stage("network", "balltrack.detect.network", "Network.look"),
    Stage("linking", "balltrack.measure", "find_batted_balls"),
    Stage("following, first sight", "balltrack.track.follow", "first_sight"),
    Stage("following, second look", "balltrack.track.follow", "look_again"),
    Stage("following, the rest", "balltrack.measure", "follow"),
    Stage("ball at rest", "balltrack.measure", "resting_ball"),
    Stage("fitting the flight", "balltrack.measure", "fit_flight"),
    Stage("pitch", "balltrack.measure", "see_pitch"),
    Stage("phone moved", "balltrack.measure", "after_drift"),
)

_open: list[float] = []  # time spent in the stages inside each stage that is being timed


@contextmanager
def timed(stage: Stage, times: Times) -> Iterator[None]:
    """Add to ``times`` what the stage takes meanwhile."""
    owner: object = importlib.import_module(stage.module)
    *classes, name = stage.name.split(".")
    owner = functools.reduce(getattr, classes, owner)
    plain: Callable[..., object] = getattr(owner, name)

    @functools.wraps(plain)
    def timing(*args: object, **named: object) -> object:
        start_s = time.process_time()
        _open.append(0.0)
        try:
            return plain(*args, **named)
        finally:
            took_s = time.process_time() - start_s
            inside_s = _open.pop()
            times[stage.title] = times.get(stage.title, 0.0) + took_s - inside_s
            if _open:
                _open[-1] += took_s

    setattr(owner, name, timing)
    try:
        yield
    finally:
        setattr(owner, name, plain)
