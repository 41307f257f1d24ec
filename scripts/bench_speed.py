"""How long measuring a lesson takes, against ffmpeg merely decoding the same files: side by side, in one run.

    python scripts/bench_speed.py [--clips 60] [--only 1080p60] [--kit FOLDER] [--out RESULT.json]

What Python and numba keep of their work from run to run is there before time is taken, as from a coach's second lesson
on. Lessons of 3 s clips are rendered once into FOLDER (kept, so that a second run starts at once): 1080p at 60 frames a
second in H.264 and the same in HEVC, 240 frames a second, and 4K. A few clips are rendered and stand in the lesson
several times over: their frames cost the same each time. Decoding is ffmpeg's own, one thread a file, as many files
at the same time as measuring has workers, before measuring and once more after it. What counts is the ratio, and the
peak memory of a worker.

Where the time goes is told by a single process that measures each rendered clip of a kind once.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import asdict, dataclass, field
from pathlib import Path

import imageio_ffmpeg  # type: ignore[import-untyped]
from bench.stages import STAGES, Times, timed

WORKERS = 2
PAUSE_S = 0.05  # between two looks at the workers' memory
LENGTHS = ("lead_s=1.9", "tail_s=1.5")  # about 3 s a clip, contact in the middle
KIND_WORDS = {
    "1080p60": "1080p, 60 frames/s, H.264",
    "1080p60 HEVC": "1080p, 60 frames/s, HEVC",
    "1080p240": "1080p, 240 frames/s, H.264",
    "4K60": "4K, 60 frames/s, HEVC",
}
HEVC_RATE = "12M"  # bits a second: phones state 90 MB a minute for 1080p at 60 frames a second (from memory)
RENDERED = {"1080p60": 6, "1080p240": 2, "4K60": 2}  # clips


@dataclass(frozen=True, slots=True)
class Speed:
    """What came of one kind of lesson."""

    kind: str
    clips: int
    frames: int
    decoding_s: float  # wall clock, ffmpeg
    measuring_s: float  # wall clock, balltrack measure
    worker_mb: float  # largest resident memory of any worker
    measured: int  # swings
    stages: dict[str, float] = field(default_factory=dict)  # processor time over that of decoding, one clip alone

    @property
    def ratio(self) -> float:
        """Measuring over decoding."""
        return self.measuring_s / self.decoding_s


def ready_kit(kit: Path, kind: str) -> Path:
    """The rendered lesson of a kind, made where it is missing."""
    folder = kit / kind.replace(" ", "-")
    if (folder / "lesson.toml").is_file():
        return folder
    kit.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=kit) as made:
        lesson = Path(made) / "lesson"
        if kind == "1080p60 HEVC":
            shutil.copytree(ready_kit(kit, "1080p60"), lesson)
            for clip in clips_of(lesson):
                _as_hevc(clip)
        else:
            _render(lesson, kind)
        lesson.rename(folder)
    return folder


def _render(lesson: Path, kind: str) -> None:
    size, _, rate = kind.partition("p") if "p" in kind else ("2160", "", "60")
    choices = ["--lines", size, "--fps", rate, "--codec", "hevc" if size == "2160" else "h264", "--sound", "clear"]
    choices += [word for pair in LENGTHS for word in ("--set", pair)]
    count = RENDERED[kind]
    blocks = "tee,toss,live" if count > 2 else "tee,live"
    script = Path(__file__).with_name("make_lesson.py")
    command = [sys.executable, str(script), str(lesson), "--seed", "21", "--place", "behind", "--venue", "field"]
    command += ["--veil", "none", "--clips", str(count), "--deliveries", blocks, "--workers", str(WORKERS), *choices]
    subprocess.run(command, check=True)


def _as_hevc(clip: Path) -> None:
    made = clip.with_name("hevc" + clip.suffix)
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", "-i", str(clip), "-c:v", "libx265"]
    command += ["-b:v", HEVC_RATE, "-x265-params", "log-level=error:keyint=60:min-keyint=60", "-tag:v", "hvc1"]
    command += ["-c:a", "copy", str(made)]
    subprocess.run(command, check=True)
    made.replace(clip)


def clips_of(lesson: Path) -> list[Path]:
    """All clips of a lesson folder."""
    return sorted(path for path in (lesson / "clips").rglob("*") if path.is_file())


def lesson_of(kit: Path, folder: Path, clips: int) -> Path:
    """A lesson of so many clips: those of the kit, over and over."""
    shutil.copy(kit / "lesson.toml", folder / "lesson.toml")
    rendered = clips_of(kit)
    for number in range(clips):
        clip = rendered[number % len(rendered)]
        place = folder / clip.relative_to(kit).parent / f"{number + 1:03d}{clip.suffix}"
        place.parent.mkdir(parents=True, exist_ok=True)
        os.link(clip, place)
    return folder


def decoding(clips: list[Path]) -> float:
    """Wall clock [s] of ffmpeg decoding all of them, pictures only, one thread each, as many at once as workers."""

    def decode(clip: Path) -> None:
        command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-threads", "1", "-i", str(clip)]
        subprocess.run([*command, "-map", "0:v:0", "-f", "null", "-"], check=True)

    start_s = time.monotonic()
    with ThreadPoolExecutor(WORKERS) as pool:
        list(pool.map(decode, clips))
    return time.monotonic() - start_s


class Memory(threading.Thread):
    """Watches the resident memory of a process' children while it runs."""

    def __init__(self, parent: int) -> None:
        super().__init__(daemon=True)
        self._parent, self.peak_mb, self.over = parent, 0.0, threading.Event()

    def run(self) -> None:
        """Look again and again."""
        while not self.over.wait(PAUSE_S):
            for child in _children(self._parent):
                self.peak_mb = max(self.peak_mb, _peak_mb(child))


def _children(parent: int) -> list[int]:
    try:
        tasks = Path(f"/proc/{parent}/task/{parent}/children").read_text(encoding="ascii")
    except OSError:
        return []
    found = [int(each) for each in tasks.split()]
    return found + [below for each in found for below in _children(each)]


def _peak_mb(process: int) -> float:
    try:
        status = Path(f"/proc/{process}/status").read_text(encoding="ascii", errors="replace")
    except OSError:
        return 0.0
    lines = [line for line in status.splitlines() if line.startswith("VmHWM:")]
    return float(lines[0].split()[1]) / 1000 if lines else 0.0


def measuring(lesson: Path) -> tuple[float, float, int]:
    """Wall clock [s] of the public command, the largest worker [MB], and the swings it has measured."""
    command = [sys.executable, "-m", "balltrack.cli", "measure", str(lesson), "--workers", str(WORKERS)]
    start_s = time.monotonic()
    running = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=_usual())
    memory = Memory(running.pid)
    memory.start()
    running.wait()
    took_s = time.monotonic() - start_s
    memory.over.set()
    memory.join()
    lines = (lesson / "results" / "swings.jsonl").read_text(encoding="utf-8").splitlines()
    return took_s, memory.peak_mb, sum(json.loads(line)["outcome"] == "measured" for line in lines)


def _usual() -> dict[str, str]:
    """The environment of a person's shell, in which Python keeps what it has compiled."""
    return {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


def stages_of(rendered: Path) -> tuple[dict[str, float], int]:
    """Processor time of each stage over that of decoding, of all clips of the kit's lesson; and frames a clip."""
    from balltrack.detect.network import load_network, shipped_weights
    from balltrack.lesson import load_lesson
    from balltrack.measure import measure_clip
    from balltrack.setup import prepare
    from balltrack.video.frames import read_frames

    read = load_lesson(rendered)
    setup = prepare(read, load_network(shipped_weights()))
    measure_clip(read.clips[-1], setup)  # what is slow only the first time is over
    start_s = time.process_time()
    frames = sum(1 for clip in read.clips for _ in read_frames(clip.path))
    bare_s = time.process_time() - start_s
    times: Times = {}
    with ExitStack() as stack:
        for stage in STAGES:
            stack.enter_context(timed(stage, times))
        start_s = time.process_time()
        for clip in read.clips:
            measure_clip(clip, setup)
        whole_s = time.process_time() - start_s
    shares = {title: seconds / bare_s for title, seconds in times.items()}
    shares["all else"] = (whole_s - sum(times.values())) / bare_s
    return shares, frames // len(read.clips)


def speed_of(kind: str, kit: Path, clips: int) -> Speed:
    """Decode and measure one kind of lesson."""
    rendered = ready_kit(kit, kind)
    with tempfile.TemporaryDirectory(dir=kit) as folder:
        lesson = lesson_of(rendered, Path(folder), clips)
        files = clips_of(lesson)
        _run_in(rendered, kit)
        decoding(files[:WORKERS])  # the files are in memory from here on, for both
        before_s = decoding(files)
        measuring_s, worker_mb, measured = measuring(lesson)
        decoding_s = (before_s + decoding(files)) / 2  # machines that are shared grow slower and faster meanwhile
    shares, frames = stages_of(rendered)
    return Speed(kind, clips, frames, decoding_s, measuring_s, worker_mb, measured, shares)


def _run_in(rendered: Path, kit: Path) -> None:
    with tempfile.TemporaryDirectory(dir=kit) as folder:
        measuring(lesson_of(rendered, Path(folder), WORKERS))


def start_up_s() -> float:
    """Wall clock of the command that only prints its help, the fastest of five."""
    command = [sys.executable, "-m", "balltrack.cli", "--help"]
    times = []
    for _ in range(5):
        start_s = time.monotonic()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=_usual())
        times.append(time.monotonic() - start_s)
    return min(times)


def words(found: list[Speed], help_s: float) -> str:
    """The report of a run."""
    lines = [f"start-up (help): {help_s:.2f} s"]
    for each in found:
        lines.append(
            f"{KIND_WORDS[each.kind]}: {each.clips} clips of {each.frames} frames; decoding {each.decoding_s:.1f} s, "
            f"measuring {each.measuring_s:.1f} s: {each.ratio:.2f} times; worker {each.worker_mb:.0f} MB; "
            f"{each.measured} swings measured"
        )
        parts = sorted(each.stages.items(), key=lambda part: -part[1])
        lines.append("   of decoding: " + ", ".join(f"{title} {share:.2f}" for title, share in parts))
    return "\n".join(lines)


def main() -> None:
    """Parse, run, print."""
    parser = argparse.ArgumentParser(description="Time measuring against bare decoding.")
    parser.add_argument("--clips", type=int, default=60, help="of the first kind; a quarter of it of the others")
    parser.add_argument("--only", choices=tuple(KIND_WORDS), action="append", help="only these kinds")
    parser.add_argument("--kit", type=Path, default=Path(tempfile.gettempdir()) / "balltrack-speed", metavar="FOLDER")
    parser.add_argument("--out", type=Path, metavar="RESULT.json")
    said = parser.parse_args()
    kinds = said.only or list(KIND_WORDS)
    help_s = start_up_s()
    found = []
    for kind in kinds:
        clips = said.clips if kind == "1080p60" else max(said.clips // 4, 2)
        found.append(speed_of(kind, said.kit, clips))
        print(words(found[-1:], help_s), flush=True)
    if said.out:
        kept = {"start_up_s": help_s, "speeds": [asdict(each) for each in found]}
        said.out.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
