"""docs/performance.md is what the benchmarks printed, and nothing else."""

import performance


def test_the_page_is_made_of_the_reports_that_are_kept() -> None:
    written = (performance.ROOT / "docs" / "performance.md").read_text(encoding="utf-8")
    assert written == performance.page()
