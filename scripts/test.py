"""Run all checks on a machine that has only Python: style, types, import order, tests. Words after it go to pytest."""

import os
import subprocess
import sys
import time
from pathlib import Path

import setup_env


def main(python: Path) -> int:
    tool = setup_env.tool
    checks = {
        "style": [str(tool("ruff")), "check", "."],
        "types": [str(tool("mypy"))],
        "import order": [str(tool("lint-imports"))],
        "tests": [str(python), "-m", "pytest", "-q", "-n", "2", *sys.argv[1:]],
    }
    one_thread = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}  # two test processes share the cores
    failed = []
    for name, command in checks.items():
        print(f"== {name}", flush=True)
        start = time.monotonic()
        if subprocess.run(command, cwd=setup_env.ROOT, env={**os.environ, **one_thread}).returncode:
            failed.append(name)
        print(f"   {time.monotonic() - start:.0f} s", flush=True)
    print(f"Failed: {', '.join(failed)}" if failed else "All checks passed.")
    return 1 if failed else 0


if __name__ == "__main__":
    setup_env.run_in_env(main, ["dev"])
