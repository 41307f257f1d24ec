"""Measure the lesson in sample_clips/ on a machine that has only Python, and say where to look."""

import subprocess
from pathlib import Path

import setup_env

LESSON = setup_env.ROOT / "sample_clips"


def main(python: Path) -> int:
    done = subprocess.run([str(setup_env.tool("balltrack")), "measure", str(LESSON)])
    results = LESSON / "results"
    if (results / "review" / "index.html").exists():
        print("\nOpen these:")
        for name, what in (
            ("review/index.html", "the lesson's page, for a browser"),
            ("review/spray_chart.png", "where the balls went"),
            ("swings.csv", "all numbers, for a spreadsheet"),
            ("swings.jsonl", "all numbers, for programs"),
            ("camera.json", "the camera that was solved from the marks"),
        ):
            print(f"  {results / name}\n      {what}")
    return done.returncode


if __name__ == "__main__":
    setup_env.run_in_env(main)
