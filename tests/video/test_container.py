from pathlib import Path
from typing import Any, Literal

import av
import pytest

from balltrack.video.clip import probe
from tests.video.encode import LOSSLESS, encode_luma, moving_square


def test_a_tag_in_another_encoding_does_not_hide_the_picture(tmp_path: Path) -> None:
    path = encode_luma(tmp_path / "odd.mp4", moving_square(6), *LOSSLESS, "-metadata", "title=XXcafeXX")
    path.write_bytes(path.read_bytes().replace(b"XXcafeXX", b"XXcaf\xe9XX"))  # Latin-1
    assert probe(path).size_px[0] > 0


def test_a_reader_without_the_option_for_bad_tags_serves_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = av.open

    def open_as_pyav_19(file: str, mode: Literal["r"], options: dict[str, str]) -> Any:
        return plain(file, mode, options=options)

    monkeypatch.setattr(av, "open", open_as_pyav_19)
    path = encode_luma(tmp_path / "plain.mp4", moving_square(6), *LOSSLESS)
    assert probe(path).size_px[0] > 0
