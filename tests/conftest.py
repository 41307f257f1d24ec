"""What a person has trained on this machine must not take part in a test: a data folder of its own, empty."""

from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture(scope="session", autouse=True)
def empty_data_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    folder = tmp_path_factory.mktemp("data")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_DATA_HOME", str(folder))  # where platformdirs looks; programs that tests start look there too
        yield folder
