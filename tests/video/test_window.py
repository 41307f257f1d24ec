"""A stretch of a clip gone through several times: the same frames each time, kept or decoded again."""

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from balltrack.errors import VideoError
from balltrack.video import window as window_module
from balltrack.video.clip import ClipInfo, probe
from balltrack.video.frames import Frame, read_frames
from balltrack.video.shelf import Shelf
from balltrack.video.window import FEWEST_WHOLE, Head, Window, room_for_whole_bytes
from tests.video.encode import LOSSLESS, encode_luma, moving_square


@pytest.fixture(scope="module")
def info(tmp_path_factory: pytest.TempPathFactory) -> ClipInfo:
    path = tmp_path_factory.mktemp("window") / "square.mp4"
    return probe(encode_luma(path, moving_square(60), *LOSSLESS, "-g", "20"))


def same(one: list[Frame], other: list[Frame]) -> bool:
    return [frame.time_s for frame in one] == [frame.time_s for frame in other] and all(
        np.array_equal(a.luma, b.luma) and np.array_equal(a.cb, b.cb) and np.array_equal(a.cr, b.cr)
        for a, b in zip(one, other, strict=True)
    )


def test_a_window_gives_the_decoded_frames_of_its_stretch_each_time(info: ClipInfo) -> None:
    window = Window(info, 0.5, 1.5)
    decoded = list(read_frames(info.path, 0.5, 1.5))
    assert len(decoded) == 30
    for _ in range(3):
        assert same(list(window), decoded)


def test_what_fits_into_memory_is_decoded_once(info: ClipInfo, monkeypatch: pytest.MonkeyPatch) -> None:
    readings = count_readings(monkeypatch)
    window = Window(info, 0.5, 1.0)
    first, second = list(window), list(window)
    assert len(readings) == 1
    assert same(first, second)


def test_a_stretch_too_large_to_keep_is_decoded_again(info: ClipInfo, monkeypatch: pytest.MonkeyPatch) -> None:
    readings = count_readings(monkeypatch)
    monkeypatch.setattr(window_module, "MOST_BYTES", 3 * 128 * 96 // 2)  # a frame, and a little
    window = Window(info, 0.0, 2.0)
    first, second = list(window), list(window)
    assert len(readings) == 2
    assert len(first) == 60
    assert same(first, second)


def test_a_reading_broken_off_midway_spoils_nothing_later(info: ClipInfo) -> None:
    window = Window(info, 0.0, 1.0)
    for frame in window:
        if frame.time_s > 0.3:
            break
    decoded = list(read_frames(info.path, 0.0, 1.0))
    assert same(list(window), decoded)
    assert same(list(window), decoded)


def test_two_readings_at_the_same_time_both_give_every_frame_once(info: ClipInfo) -> None:
    window = Window(info, 0.0, 1.0)
    decoded = list(read_frames(info.path, 0.0, 1.0))
    pairs = list(zip(window, window, strict=True))
    assert same([pair[0] for pair in pairs], decoded)
    assert same([pair[1] for pair in pairs], decoded)
    assert same(list(window), decoded)


def test_a_stretch_outside_the_clip_is_empty(info: ClipInfo) -> None:
    assert list(Window(info, 50.0, 51.0)) == []
    assert len(list(Window(info, -1.0, 0.1))) == 3


def test_frames_that_were_kept_at_first_sight_are_not_decoded_again(
    info: ClipInfo, monkeypatch: pytest.MonkeyPatch
) -> None:
    head = Head([(0.5, 1.0), (0.9, 1.2)])
    for frame in read_frames(info.path):
        head.add(frame)
    decoded = list(read_frames(info.path, 0.6, 1.5))
    readings = count_readings(monkeypatch)
    window = Window(info, 0.6, 1.5, head=head.since(0.6))
    assert same(list(itertools.takewhile(lambda frame: frame.time_s < 1.15, window)), decoded[:17])
    assert readings == []
    assert same(list(window), decoded)
    assert len(readings) == 1
    assert head.since(0.3) == []  # what came before the first stretch was not kept


def test_stretches_that_do_not_fit_into_memory_are_left_out_the_least_wanted_first(
    info: ClipInfo, monkeypatch: pytest.MonkeyPatch
) -> None:
    late, early = (1.0, 1.4), (0.0, 0.5)
    for wanted, other in ((late, early), (early, late)):
        alone = head_of(info, [wanted])
        with monkeypatch.context() as patched:
            patched.setattr(window_module, "MOST_BYTES", sum(each.bytes for each in alone.since(wanted[0])))
            head = head_of(info, [wanted, other])
        assert frames_of(head, wanted[0]) == frames_of(alone, wanted[0]) in (12, 15)
        assert frames_of(head, other[0]) == 0


def test_a_stretch_that_overlaps_a_more_wanted_one_is_kept_beside_it(info: ClipInfo) -> None:
    head = head_of(info, [(0.8, 1.2), (0.4, 1.6)])
    window = Window(info, 0.4, 1.6, head=head.since(0.4))
    assert len(head.since(0.4)) == 3
    assert same(list(window), list(read_frames(info.path, 0.4, 1.6)))
    assert window.kept_until_s == pytest.approx(1.6, abs=1 / 30)


def test_a_stretch_of_which_much_fits_is_cut_short_and_says_how_far_it_is_at_hand(
    info: ClipInfo, monkeypatch: pytest.MonkeyPatch
) -> None:
    limit_bytes = int(0.7 * head_of(info, [(0.5, 2.0)]).since(0.5)[0].bytes)
    monkeypatch.setattr(window_module, "MOST_BYTES", limit_bytes)
    window = Window(info, 0.5, 2.0, head=head_of(info, [(0.5, 2.0)]).since(0.5))
    shelf, kept_until_s = Shelf(), 0.0
    for frame in read_frames(info.path, 0.5, 2.0):
        if shelf.bytes < limit_bytes:
            shelf.add(frame)
            kept_until_s = frame.time_s
    assert window.kept_until_s == kept_until_s < 1.9
    assert same(list(window), list(read_frames(info.path, 0.5, 2.0)))


def test_of_frames_that_follow_closely_every_second_one_is_looked_at_kept_or_decoded(tmp_path: Path) -> None:
    # 240 frames a second: two lie 1/120 s apart.
    path = encode_luma(tmp_path / "fast.mp4", moving_square(96), *LOSSLESS, fps=240)
    fast = probe(path)
    head = head_of(fast, [(0.1, 0.2)])
    for window in (Window(fast, 0.1, 0.3, head=head.since(0.1)), Window(fast, 0.1, 0.3)):
        times = [frame.time_s for frame in window]
        assert np.allclose(np.diff(times), 1 / 120)
        assert times == [frame.time_s for frame in window]


def test_frames_that_find_room_are_kept_as_they_are(info: ClipInfo) -> None:
    frames = list(read_frames(info.path, 0.5, 1.0))
    head = Head([(0.5, 1.0)], whole_bytes=10 * frames[0].size_bytes)
    for frame in frames:
        head.add(frame)
    kept = list(Window(info, 0.5, 1.0, head=head.since(0.5)))
    assert [one is other for one, other in zip(kept, frames, strict=True)] == [k < 10 for k in range(len(frames))]
    assert same(kept, frames)


def test_of_pictures_of_which_few_would_fit_none_is_kept_as_it_is(info: ClipInfo) -> None:
    full_hd, ultra_hd = replace(info, size_px=(1920, 1080)), replace(info, size_px=(3840, 2160))
    assert room_for_whole_bytes(full_hd) >= FEWEST_WHOLE * 1920 * 1080 * 3 // 2
    assert room_for_whole_bytes(ultra_hd) == 0


def test_a_window_up_to_the_last_frame_asks_for_no_more(info: ClipInfo, monkeypatch: pytest.MonkeyPatch) -> None:
    head = head_of(info, [(1.5, 3.0)])
    readings = count_readings(monkeypatch)
    assert len(list(Window(info, 1.5, head.stop_s, head=head.since(1.5)))) == 15
    assert readings == []


def test_a_clip_that_is_gone_is_one_line_when_first_read(info: ClipInfo, tmp_path: Path) -> None:
    copy = tmp_path / "gone.mp4"
    copy.write_bytes(info.path.read_bytes())
    window = Window(probe(copy), 0.0, 1.0)
    copy.unlink()
    with pytest.raises(VideoError, match=r"^gone\.mp4"):
        list(window)


def head_of(info: ClipInfo, spans_s: list[tuple[float, float]]) -> Head:
    head = Head(spans_s)
    for frame in read_frames(info.path):
        head.add(frame)
    return head


def frames_of(head: Head, start_s: float) -> int:
    return sum(len(list(stretch)) for stretch in head.since(start_s))


def count_readings(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    readings: list[Path] = []

    def counted(path: Path, *args: object, **kwargs: object) -> object:
        readings.append(path)
        return read_frames(path, *args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(window_module, "read_frames", counted)
    return readings
