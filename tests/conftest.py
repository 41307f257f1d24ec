"""What a person has trained on this machine must not take part in a test: a data folder of its own, empty."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
import tomlkit


@pytest.fixture(scope="session", autouse=True)
def empty_data_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    folder = tmp_path_factory.mktemp("data")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_DATA_HOME", str(folder))  # where platformdirs looks; programs that tests start look there too
        yield folder


def without_words(lesson_toml: str) -> str:
    """The same as entered by a coach who has said nothing yet."""
    lesson = tomlkit.parse(lesson_toml)
    for section in ("lesson", "swings", "plan"):
        lesson.remove(section)
    for name in ("title", "notes"):
        for block in dict(lesson["blocks"]).values():
            block.pop(name, None)
    return tomlkit.dumps(lesson)


@pytest.fixture(scope="session")
def measured_sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two hits of the sample lesson, one from the tee and one tossed, measured by motion. Work on copies."""
    from tests.made_once import made_once

    return made_once(tmp_path_factory, "measured-sample", _measure_sample)


def _measure_sample(folder: Path) -> None:
    from balltrack.batch import Wish, measure_as
    from tests.here import Here

    sample = Path(__file__).parents[1] / "sample_clips"
    for name in ("clips/01-tee/swing-03.mp4", "clips/02-toss/swing-05.mp4"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(sample / name, folder / name)
    (folder / "lesson.toml").write_text(without_words((sample / "lesson.toml").read_text()))
    measure_as(folder, Wish(run=Here().run))


@pytest.fixture(scope="session")
def sample_without_a_swing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lesson, measured, in whose one clip no swing was told though it shows a hit. Work on copies."""
    from tests.added import measure_without_a_swing
    from tests.made_once import made_once

    return made_once(tmp_path_factory, "without-a-swing", measure_without_a_swing)
