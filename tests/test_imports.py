"""Rooms are imported one way only, scripts never by the package, and the renderer owes the package nothing."""

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent


def imported_names(folder: Path) -> Iterator[tuple[Path, str]]:
    for path in sorted(folder.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                yield from ((path, alias.name) for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                yield path, node.module


def test_the_contracts_on_imports_hold() -> None:
    code = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = subprocess.run(
        [sys.executable, "-c", code, "--no-cache"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_package_never_imports_a_script() -> None:
    scripts = {path.stem for path in (ROOT / "scripts").iterdir()} | {"scripts"}
    assert not [(path, name) for path, name in imported_names(ROOT / "balltrack") if name.split(".")[0] in scripts]


def test_the_renderer_shares_nothing_with_what_it_judges() -> None:
    found = [
        (path, name) for path, name in imported_names(ROOT / "scripts" / "render") if name.split(".")[0] == "balltrack"
    ]
    assert not found
