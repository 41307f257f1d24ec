"""How fast lessons are rendered: python scripts/bench_render.py --seconds 4 --seed 7

Renders 1080p at 60 frames/s in worker processes, encoding included, and beside it encodes the same pictures alone.
The still scene, painted once a lesson, is timed apart.
"""

import argparse
import os
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import cv2
import numpy as np
from render.arrays import Bytes
from render.cast import Cast
from render.encode import Format, Writer, phone_megabits
from render.film import Studio
from render.lesson import still_scene
from render.play import chain
from render.scene_spec import SceneSpec, draw
from render.standing import camera_of

KEPT = 30  # pictures encoded over and over


@dataclass(frozen=True, slots=True)
class Job:
    """One worker's part."""

    spec: SceneSpec
    delivery: str
    frames: int
    part: int


@dataclass(frozen=True, slots=True)
class Timing:
    """One worker's result. [s], of the wall's clock and of the processor"""

    scene_s: float
    film_s: float
    film_cpu_s: float
    encode_s: float
    encode_cpu_s: float


def film(job: Job) -> Timing:
    """Film around contact, then encode some of the pictures as often as pictures were filmed."""
    cv2.setNumThreads(1)
    spec, optics = job.spec, camera_of(job.spec)
    start = time.perf_counter()
    studio, cast = Studio(spec, optics, still_scene(spec, optics, (job.delivery,))), Cast(spec)
    scene_s = time.perf_counter() - start
    (play,) = chain(spec, job.delivery, job.part, ("hit",))
    studio.begin(job.part, play.length_s)
    form = Format(optics.size_px, spec.fps, spec.codec, phone_megabits(optics.size_px, spec.fps, spec.codec))
    moments = play.contact_s - 0.5 + np.arange(job.frames) / spec.fps % 1.5
    rng = np.random.default_rng(job.part)
    kept: list[Bytes] = []
    with tempfile.TemporaryDirectory() as folder:
        start, cpu = time.perf_counter(), time.process_time()
        with Writer(Path(folder) / "film.mp4", form, None) as writer:
            for number, moment in enumerate(moments):
                picture, _ = studio.frame(play, cast, max(float(moment), 0.0), rng)
                writer.add(picture, number / spec.fps)
                if len(kept) < KEPT:
                    kept.append(picture.copy())
        film_s, film_cpu_s = time.perf_counter() - start, time.process_time() - cpu
        start, cpu = time.perf_counter(), time.process_time()
        with Writer(Path(folder) / "alone.mp4", form, None) as writer:
            for number in range(job.frames):
                writer.add(kept[number % len(kept)], number / spec.fps)
        return Timing(scene_s, film_s, film_cpu_s, time.perf_counter() - start, time.process_time() - cpu)


def _say(what: str, rate: float, cpu_ms: float, workers: int) -> None:
    alone = 1000 * workers / cpu_ms
    print(f"{what}: {rate:.1f} frames/s; {cpu_ms:.1f} ms of processor a frame, so {alone:.1f} frames/s on idle cores")


def main() -> int:
    """Parse, time, print."""
    parser = argparse.ArgumentParser(description="Time the renderer at 1080p, 60 frames/s.")
    parser.add_argument("--seconds", type=float, default=4.0, help="of film, shared by the workers (default 4)")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--delivery", choices=("tee", "toss", "live"), default="live")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--busy", action="store_true", help="everything at once: shaken, screened, full of people")
    said = parser.parse_args()
    frames = max(int(said.seconds * 60 / said.workers), 1)
    plain = {"lines": 1080, "fps": 60.0, "codec": "h264"}
    busy = {"light": "sun", "venue": "field", "place": "screen", "veil": "chain_link", "walkers": 4, "birds": 4}
    spec = draw(said.seed, **plain)
    if said.busy:
        spec = draw(said.seed, **plain, **busy, hand_px=3.0, exposure_step=0.1, cloud=0.2, next_ball=True, catcher=True)
    jobs = [Job(spec, said.delivery, frames, part) for part in range(said.workers)]
    with ProcessPoolExecutor(said.workers, mp_context=get_context("spawn")) as pool:
        timings = list(pool.map(film, jobs))
    print(f"{spec.place}, {spec.venue}, {spec.light}, veil {spec.veil}, hand {spec.hand_px:.1f} px, {said.delivery}")
    print(f"still scene {max(t.scene_s for t in timings):.1f} s, once a lesson")
    count = frames * said.workers
    film_s, encode_s = max(t.film_s for t in timings), max(t.encode_s for t in timings)
    _say("filmed", count / film_s, 1000 * sum(t.film_cpu_s for t in timings) / count, said.workers)
    _say("encoded alone", count / encode_s, 1000 * sum(t.encode_cpu_s for t in timings) / count, said.workers)
    print(f"filming takes {film_s / encode_s:.1f} times as long as encoding alone")
    return 0


if __name__ == "__main__":
    sys.exit(main())
