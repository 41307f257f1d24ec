"""docs/files.md names a test for every case: each must be there."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
ROW = re.compile(r"^\| .+ \| .+ \| `(?P<file>tests/[\w/]+\.py)(?:::(?P<name>\w+))?` \|$")
HEADS = ("| case |", "| --- |")


def test_every_case_of_the_table_names_a_test_that_is_there() -> None:
    rows = [line for line in (ROOT / "docs" / "files.md").read_text().splitlines() if line.startswith("|")]
    cases = [line for line in rows if not line.startswith(HEADS)]
    missing = []
    for line in cases:
        row = ROW.match(line)
        if row is None or not _there(ROOT / row["file"], row["name"]):
            missing.append(line)
    assert len(cases) > 50
    assert missing == []


def _there(file: Path, name: str | None) -> bool:
    if not file.is_file():
        return False
    names = {each.name for each in ast.parse(file.read_text()).body if isinstance(each, ast.FunctionDef)}
    return name in names if name else any(each.startswith("test_") for each in names)
