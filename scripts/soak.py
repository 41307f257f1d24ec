"""Thousands of clips in one run: does it leak, does it lose any?

    python scripts/soak.py                    # 2,000 clips, 1 in 20 damaged
    python scripts/soak.py --clips 60 --kills 2

Makes a lesson of small clips (repeats of the sample's), measures it as ``balltrack measure`` does while workers are
killed now and then, watches memory and open files of all processes, and measures it once more, with nothing changed.
Ends with status 1 where a clip is not accounted for, or memory or open files grow.
"""

import argparse
import os
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from soak_lesson import Mix, make_lesson

from balltrack.batch import ClipDone, LessonOutcome, Wish, measure_as
from balltrack.detect.network import load_network

SAMPLE_S = 0.5
KILL_SHARE = 0.3  # of the clips: in this part processes are killed, so that the later ones live long
# A process grows by tens of MB in its first clips, as libraries load and pools fill; only then is it judged, over so
# many clips that 10 MB of a pool that fills late is no more than what a leak must not exceed.
WARM_CLIPS, FEWEST_CLIPS, FEWEST_SAMPLES = 50, 500, 20
# What a leak must not exceed: at this pace a night of 100,000 clips on 8 workers adds 250 MB to each.
MOST_KB_PER_CLIP = 20.0
MOST_MORE_FILES = 3  # a clip and its sound may just be open
PAGE_KB = os.sysconf("SC_PAGE_SIZE") / 1024


@dataclass(frozen=True, slots=True)
class Sample:
    """One process at one moment."""

    pid: int
    done: int  # clips of the whole run
    memory_kb: float  # resident
    files: int


@dataclass
class Watch:
    """Looks at this process and its workers while they work, and kills a worker where it was told to."""

    total: int
    kills: int
    seed: int
    done: int = 0
    killed: int = 0
    samples: list[Sample] = field(default_factory=list)
    problems: Counter[str] = field(default_factory=Counter)
    told_s: float = 0.0

    def show(self, done: int, total: int, last: ClipDone | None) -> None:
        """What the run tells of its progress."""
        self.done = done
        if last and last.problem:
            self.problems[last.problem] += 1
        if time.monotonic() - self.told_s > 15:
            self.told_s = time.monotonic()
            print(f"{done} of {total}", file=sys.stderr, flush=True)  # no part of the report

    def run(self, stop: threading.Event) -> None:
        """Until told to stop."""
        draw = np.random.default_rng(self.seed)
        at = sorted(draw.integers(1, max(2, round(KILL_SHARE * self.total)), self.kills).tolist())
        while not stop.wait(SAMPLE_S):
            workers = _workers(os.getpid())
            self.samples += [sample for pid in (os.getpid(), *workers) if (sample := _sample(pid, self.done))]
            if workers and self.killed < len(at) and self.done >= at[self.killed]:
                os.kill(workers[draw.integers(len(workers))], signal.SIGKILL)
                self.killed += 1


@dataclass(frozen=True, slots=True)
class Growth:
    """How memory and files of one process grew once it was warm."""

    pid: int
    kb_per_clip: float  # of its own clips
    most_mb: float
    more_files: int


def growths(samples: list[Sample], workers: int) -> list[Growth]:
    """One for each process that was seen for long enough."""
    found = []
    for pid in dict.fromkeys(sample.pid for sample in samples):
        share = 1 if pid == os.getpid() else workers  # of the run's clips, a worker does so many-th
        seen = [sample for sample in samples if sample.pid == pid]
        own = [sample for sample in seen if sample.done >= seen[0].done + WARM_CLIPS * share]
        if len(own) < FEWEST_SAMPLES or own[-1].done - own[0].done < FEWEST_CLIPS * share:
            continue
        done, memory_kb = np.array([each.done for each in own]) / share, np.array([each.memory_kb for each in own])
        slope = float(np.polyfit(done, memory_kb, 1)[0])
        half = len(own) // 2
        more = int(np.median([each.files for each in own[half:]]) - np.median([each.files for each in own[:half]]))
        found.append(Growth(pid, slope, memory_kb.max() / 1024, more))
    return found


def unaccounted(kinds: dict[str, str], outcome: LessonOutcome) -> list[str]:
    """Clips that are in no record, in no note and no problem; or in two that exclude each other."""
    swung = {swing.clip for swing in outcome.swings}
    told = " ".join(note for note in outcome.notes if "no swing was found" in note)
    quiet = {name for name in kinds if name in told}
    lost = {problem.split(": ")[0] for problem in outcome.problems}
    return [name for name in kinds if (name in swung) + (name in quiet) != 1 or (name in lost and name not in swung)]


def soak(folder: Path, mix: Mix, wish: Wish, kills: int, seed: int) -> tuple[str, bool]:
    """Make, measure, watch; the summary, and whether all is well."""
    began_s = time.monotonic()
    kinds = make_lesson(folder, mix, seed)
    made_s, watch, stop = time.monotonic() - began_s, Watch(mix.clips, kills, seed), threading.Event()
    thread = threading.Thread(target=watch.run, args=(stop,), daemon=True)
    thread.start()
    began_s = time.monotonic()
    outcome = measure_as(folder, wish, watch.show)
    took_s = time.monotonic() - began_s
    stop.set()
    thread.join()
    records = (folder / "results" / "swings.jsonl").read_bytes()
    began_s = time.monotonic()
    second = measure_as(folder, wish)
    second_s = time.monotonic() - began_s
    missing = unaccounted(kinds, outcome)
    bugs = sum(count for words, count in watch.problems.items() if "fault of this program" in words)
    grown = growths(watch.samples, wish.workers or 1)
    leaks = [g for g in grown if g.kb_per_clip > MOST_KB_PER_CLIP or g.more_files > MOST_MORE_FILES]
    same = records == (folder / "results" / "swings.jsonl").read_bytes()
    swings = Counter[str](swing.outcome for swing in outcome.swings if not swing.swing.endswith("#0"))
    lines = [
        f"{mix.clips} clips, by kind: {_counts(Counter(kinds.values()))}",
        f"made in {made_s:.0f} s; measured in {took_s:.0f} s by {wish.workers} workers, {watch.killed} of them killed",
        f"clips, by what came of them: {_counts(outcome.ends)}; swings: {_counts(swings) or 'none'}",
        *(f"  {count} x {words}" for words, count in watch.problems.most_common(12)),
        f"not accounted for: {len(missing)} {missing[:5]}; faults of the program: {bugs}",
        *(_words(growth) for growth in grown),
        f"second run: {second_s:.0f} s, {second.kept} clips not measured again, "
        f"records {'the same' if same else 'DIFFERENT'}",
    ]
    well = (
        outcome.ends.total() == mix.clips
        and not missing
        and not bugs
        and not leaks
        and same
        and second.kept == mix.clips
    )
    return "\n".join(lines), well


def _counts(counter: Counter[str]) -> str:
    return ", ".join(f"{count} {words}" for words, count in counter.most_common())


def _words(growth: Growth) -> str:
    who = "parent" if growth.pid == os.getpid() else f"worker {growth.pid}"
    return (
        f"{who}: {growth.kb_per_clip:+.1f} kB a clip once warm, at most {growth.most_mb:.0f} MB, "
        f"{growth.more_files:+d} open files"
    )


def _sample(pid: int, done: int) -> Sample | None:
    try:
        memory = int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * PAGE_KB
        return Sample(pid, done, memory, sum(1 for _ in Path(f"/proc/{pid}/fd").iterdir()))
    except OSError:  # it has ended meanwhile
        return None


def _workers(pid: int) -> list[int]:
    """Worker processes, begun by this one or copied from another that it began; not Python's own helpers."""
    found = []
    for child in _children(pid):
        words = _command(child)
        if "spawn_main" in words:
            found.append(child)
        elif "forkserver" in words:
            found += _children(child)
    return found


def _children(pid: int) -> list[int]:
    try:
        return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except OSError:  # it has ended meanwhile
        return []


def _command(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/cmdline").read_text()
    except OSError:
        return ""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--clips", type=int, default=2000)
    parser.add_argument("--hits", type=float, default=0.05, help="share of clips with a swing, which take longest")
    parser.add_argument("--kills", type=int, default=5, help="workers that are killed in their work")
    parser.add_argument("--workers", type=int, default=len(os.sched_getaffinity(0)))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--no-network", action="store_true")
    options = parser.parse_args()
    network = None if options.no_network else load_network()
    with tempfile.TemporaryDirectory() as place:
        mix = Mix(options.clips, options.hits)
        summary, well = soak(
            Path(place) / "lesson", mix, Wish(options.workers, network=network), options.kills, options.seed
        )
    print(summary)
    sys.exit(0 if well else 1)


if __name__ == "__main__":
    main()
