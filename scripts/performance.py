"""Run the benchmarks of speed and write docs/performance.md from what they print.

    python scripts/performance.py                  all of them: some hours of two cores, best with nothing beside them
    python scripts/performance.py speed soak       these; of the others the last reports stay
    python scripts/performance.py --only-write     run none

Each report is kept in docs/performance, with the machine and the day.
"""

import argparse
import datetime
import os
import platform
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
KEPT = ROOT / "docs" / "performance"


@dataclass(frozen=True, slots=True)
class Bench:
    """A benchmark, and what its figures are."""

    name: str
    title: str
    words: str
    script: str
    arguments: tuple[str, ...] = ()


BENCHES = (
    Bench(
        "speed",
        "One lesson on a laptop",
        "The public command against ffmpeg that decodes the same files and does no more, two at a time, one thread "
        "each. The ratio counts, not this machine's seconds. Below each kind: processor time of each stage over that "
        "of decoding, of each rendered clip measured alone.",
        "bench_speed.py",
    ),
    Bench(
        "split",
        "A recording of a whole lesson",
        "Cutting one film of ten minutes (a lesson's may be four times as long) into its swings, against ffmpeg that "
        "decodes it on the same two cores.",
        "bench_split.py",
        ("--minutes", "10"),
    ),
    Bench(
        "cluster",
        "Many machines",
        "Clips by workers on this machine, what a clip and a lesson cost, and the plan on paper of a night of 100,000 "
        "clips, worked out from these.",
        "bench_cluster.py",
    ),
    Bench(
        "soak",
        "A long run",
        "2,000 clips, one in twenty damaged, in one run, with workers killed in their work: does memory or the number "
        "of open files grow, is every clip accounted for?",
        "soak.py",
    ),
)


def machine() -> str:
    """This machine in words: processor, cores, system."""
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
        name = next(line.partition(":")[2].strip() for line in lines if line.startswith("model name"))
    except (OSError, StopIteration):
        name = platform.processor() or platform.machine()
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return f"{name}, {cores} cores, Python {platform.python_version()}"


def run(bench: Bench) -> None:
    """Run a benchmark and keep its report; SystemExit with its complaint where it fails."""
    print(f"== {bench.title}", flush=True)
    command = [sys.executable, str(ROOT / "scripts" / bench.script), *bench.arguments]
    done = subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)
    print(done.stdout, flush=True)
    if done.returncode:
        raise SystemExit(f"{bench.script} ended with status {done.returncode}; its report is not kept")
    KEPT.mkdir(exist_ok=True)
    head = f"{datetime.date.today().isoformat()}, {machine()}\n\n"
    (KEPT / f"{bench.name}.txt").write_text(head + done.stdout.strip() + "\n", encoding="utf-8")


def page() -> str:
    """The whole of docs/performance.md."""
    parts = [
        "# How fast it is\n\nWritten by `scripts/performance.py` from what the benchmarks printed; do not edit. A time "
        "depends on the machine and on what else it does; ratios within one report do not.\n"
    ]
    for bench in BENCHES:
        report = KEPT / f"{bench.name}.txt"
        said = report.read_text(encoding="utf-8").strip() if report.is_file() else "Not run yet."
        command = " ".join(["python", f"scripts/{bench.script}", *bench.arguments])
        parts.append(f"## {bench.title}\n\n{bench.words}\n\n`{command}`\n\n```\n{said}\n```\n")
    return "\n".join(parts)


def main() -> None:
    """Parse, run, write."""
    parser = argparse.ArgumentParser(description="Run the benchmarks of speed and write docs/performance.md.")
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(bench.name for bench in BENCHES))
    parser.add_argument("--only-write", action="store_true", help="write the page from the reports kept")
    said = parser.parse_args()
    unknown = set(said.names) - {bench.name for bench in BENCHES}
    if unknown:
        parser.error(f"no such benchmark: {', '.join(sorted(unknown))}")
    if not said.only_write:
        for bench in BENCHES:
            if not said.names or bench.name in said.names:
                run(bench)
    (ROOT / "docs" / "performance.md").write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
