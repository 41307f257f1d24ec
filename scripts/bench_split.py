"""How long it takes to cut a recording of a whole lesson, against the ffmpeg program that decodes it and does no more.

    python scripts/bench_split.py [--minutes 40] [--rounds 1] [--keep FOLDER]

Two cores each, in turns, on the same file: 1080p60 H.264, made from the swings of sample_clips (10 Mb/s) with time
between them (17 Mb/s) in which the batter stands and another cage cracks, people clap and talk. Says the ratio of the
times, how many swings were found, and the most memory that the command took.
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
import wave
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import imageio_ffmpeg  # type: ignore[import-untyped]
import numpy as np
from bench.noises import RATE_HZ, Floats, claps, crack, speech

from balltrack.recording.cuts import identity, known_cuts
from balltrack.video.clip import probe
from balltrack.video.stamps import frame_times_s

SAMPLE = Path(__file__).resolve().parents[1] / "sample_clips"
STANCE = "03-live/swing-08.mp4"
FPS, BITRATE = 60, "17M"  # of common phones at 1080p60: 14 to 25 Mb/s (from memory)
WAIT_S, PAUSE_S = 11.0, 60.0  # between two swings, and between two blocks
SAME_SWING_S = 0.3
CORES = 2


@dataclass(frozen=True)
class Film:
    """A film of so many rounds of the same swings, and when they were."""

    path: Path
    rounds_s: tuple[float, ...]  # when each begins
    contacts_s: tuple[float, ...]  # of one round
    length_s: float

    @property
    def all_contacts_s(self) -> list[float]:
        return [begun_s + time_s for begun_s in self.rounds_s for time_s in self.contacts_s]


def main() -> None:
    """Make the film, time both, and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=40.0)
    parser.add_argument("--rounds", type=int, default=1, help="how often each is timed")
    parser.add_argument("--keep", type=Path, help="a folder in which the film is kept, and found again")
    entered = parser.parse_args()
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:CORES])
    with tempfile.TemporaryDirectory() as hidden:
        film = made(entered.keep or Path(hidden), entered.minutes)
        report(film, entered.rounds, Path(hidden))


def report(film: Film, rounds: int, folder: Path) -> None:
    """Time decoding and cutting in turns."""
    bare_s, split_s, most_mb = [], [], 0.0
    lesson = folder / "lesson"
    for _ in range(rounds):
        bare_s.append(timed(decode_command(film.path))[0])
        shutil.rmtree(lesson, ignore_errors=True)
        command = [sys.executable, "-m", "balltrack.cli", "split", str(film.path), str(lesson), "--workers", str(CORES)]
        seconds, mb = timed(command)
        split_s.append(seconds)
        most_mb = max(most_mb, mb)
    found = [cut.contact_s for cut in known_cuts(lesson, identity(film.path))]
    true = film.all_contacts_s
    right = sum(min((abs(time - each) for each in found), default=np.inf) < SAME_SWING_S for time in true)
    false = sum(min(abs(time - each) for each in true) >= SAME_SWING_S for time in found)
    print(f"film: {film.length_s / 60:.1f} minutes, 1920 x 1080, {FPS}/s, {film.path.stat().st_size / 1e6:.0f} MB")
    print(f"bare decoding, {CORES} cores: {min(bare_s):.1f} s ({film.length_s * FPS / min(bare_s):.0f} pictures/s)")
    print(f"balltrack split, {CORES} cores: {min(split_s):.1f} s, ratio {min(split_s) / min(bare_s):.2f}")
    print(f"memory of all its processes: {most_mb:.0f} MB at most")
    print(f"swings: {right} of {len(true)} found, {false} cut that are none")


def decode_command(path: Path) -> list[str]:
    """The ffmpeg program: every picture decoded, none kept."""
    ffmpeg = imageio_ffmpeg.get_ffmpeg_exe()
    quiet = ["-v", "error", "-threads", str(CORES), "-noautorotate"]
    return [ffmpeg, *quiet, "-i", str(path), "-map", "0:v:0", "-f", "null", "-"]


def timed(command: list[str]) -> tuple[float, float]:
    """Wall time of a program, and the most memory that it and its children held at once. [s, MB]"""
    start_s = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    with watched_mb(process.pid) as most_mb:
        status = process.wait()
    seconds = time.perf_counter() - start_s
    if status:
        raise SystemExit(f"{command[0]} ended with status {status}")
    return seconds, most_mb[0]


@contextmanager
def watched_mb(pid: int) -> Iterator[list[float]]:
    """Look at a process and its children twice a second; shared pages count for each."""
    most_mb, ended = [0.0], threading.Event()

    def watch() -> None:
        while not ended.wait(0.5):
            most_mb[0] = max(most_mb[0], held_mb(pid))

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        yield most_mb
    finally:
        ended.set()
        watcher.join()


def held_mb(pid: int) -> float:
    """Resident memory of a process and all below it; 0 where the system does not tell."""
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6 + sum(held_mb(int(child)) for child in children)


def made(folder: Path, minutes: float) -> Film:
    """The film, made in ``folder`` or found there: one round of swings, copied as often as needed."""
    folder.mkdir(parents=True, exist_ok=True)
    one, told = folder / "round.mp4", folder / "round.json"
    if not told.exists():
        told.write_text(json.dumps(make_round(one)))
    round_s, contacts_s = json.loads(told.read_text())
    rounds = max(round(minutes * 60 / round_s), 1)
    film = folder / f"film-{rounds}.mp4"
    if not film.exists():
        run("-stream_loop", str(rounds - 1), "-i", str(one), "-c", "copy", str(film))
    times_s = frame_times_s(probe(film))  # a round's sound is a little longer than its pictures, and leaves a gap
    begun_s = times_s[:: len(times_s) // rounds][:rounds]
    return Film(film, tuple(begun_s.tolist()), tuple(contacts_s), float(times_s[-1]))


def make_round(path: Path) -> tuple[float, list[float]]:
    """All swings of the sample with waits between them and a pause behind; its length and the contacts in it. [s]

    The pictures of the swings are copied as they are; only a second or two of waiting is encoded, and repeated.
    """
    truth = [json.loads(line) for line in (SAMPLE / "truth" / "swings.jsonl").read_text().splitlines()]
    stand = standing(path.with_name("stand.mp4"))
    stand_s = frames_of(stand) / FPS
    listed, at_s, contacts_s, sounds = [], 0.0, [], []
    for number, swing in enumerate(truth):
        clip = SAMPLE / "clips" / swing["clip"]
        silent = path.with_name(f"swing-{number}.mp4")
        run("-i", str(clip), "-an", "-c", "copy", str(silent))
        contacts_s.append(at_s + swing["contact_s"])
        sounds.append((at_s, heard(clip)))
        at_s += frames_of(silent) / FPS
        sounds += [(at_s + 2.0, crack(0.25)), (at_s + 3.0, speech(4.0, 0.05)), (at_s + 8.0, claps(4, 0.3))]
        waits = round((PAUSE_S if number == len(truth) - 1 else WAIT_S) / stand_s)
        listed += [silent.name] + [stand.name] * waits
        at_s += waits * stand_s
    files = path.with_suffix(".txt")
    files.write_text("".join(f"file {name}\n" for name in listed))
    sound = write_sound(path.with_suffix(".wav"), sounds, at_s)
    joined = ["-f", "concat", "-i", str(files), "-i", str(sound)]
    run(*joined, "-map", "0:v", "-map", "1:a", "-c:v", "copy", "-c:a", "aac", str(path))
    return frames_of(path) / FPS, contacts_s


def standing(path: Path) -> Path:
    """The batter waits, in fresh noise: 2 s, coded as phones do, with a key frame a second."""
    still = f"trim=end_frame=4,loop=loop=-1:size=4,setpts=N/{FPS}/TB,trim=duration=2,noise=alls=4:allf=t"
    coded = ["-c:v", "libx264", "-preset", "veryfast", "-b:v", BITRATE, "-g", str(FPS), "-bf", "0"]
    run("-i", str(SAMPLE / "clips" / STANCE), "-an", "-vf", still, *coded, "-video_track_timescale", "90000", str(path))
    return path


def frames_of(path: Path) -> int:
    """How many pictures a file holds."""
    return len(frame_times_s(probe(path)))


def heard(path: Path) -> Floats:
    """A clip's sound, mono."""
    read = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-i", str(path)]
    raw = subprocess.run([*read, "-ac", "1", "-ar", str(RATE_HZ), "-f", "f32le", "-"], capture_output=True, check=True)
    return np.frombuffer(raw.stdout, np.float32).astype(np.float64)


def write_sound(path: Path, sounds: list[tuple[float, Floats]], length_s: float) -> Path:
    """All sounds at their times, in faint noise."""
    samples = 0.002 * np.random.default_rng(7).standard_normal(round(length_s * RATE_HZ))
    for start_s, sound in sounds:
        part = samples[round(start_s * RATE_HZ) :][: len(sound)]
        part += sound[: len(part)]
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return path


def run(*args: str) -> None:
    """Run the ffmpeg program in silence."""
    subprocess.run([imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *args], check=True)


if __name__ == "__main__":
    main()
