"""Corrections find their swing by time, and each says in the record what it is."""

import math
from pathlib import Path

from balltrack.records.corrections import Corrections, Fix, corrections_version, read_corrections
from balltrack.records.hand import HandRow, hand_path, read_hand, write_hand
from balltrack.records.verdict import Verdict, verdict_path, write_verdicts

CLIP = "clips/01-tee/001.mp4"


def ball(time_s: float) -> HandRow:
    return HandRow(0, time_s, (100.0, 50.0), 9.0)


def nothing(time_s: float) -> HandRow:
    return HandRow(0, time_s, None, math.nan)


def test_a_correction_stays_with_its_swing_when_swings_are_numbered_anew() -> None:
    said = Corrections((ball(5.2),), (Verdict(swing="01-tee/001#2", near_s=5.0, miss=True),))
    # The program saw an earlier swing too, or no longer sees the first one: times tell, numbers do not.
    for times_s, mine in (((1.0, 5.0), 1), ((0.2, 1.0, 5.1), 2), ((4.9,), 0)):
        fixes = said.fixes(times_s)
        assert [fix.miss for fix in fixes] == [k == mine for k in range(len(times_s))]
        assert [len(fix.rows) for fix in fixes] == [int(k == mine) for k in range(len(times_s))]


def test_a_ball_belongs_to_the_swing_before_it_though_the_next_one_is_nearer() -> None:
    first, second = Corrections((ball(2.0), ball(2.9))).fixes((1.0, 2.8))
    assert ([row.time_s for row in first.rows], [row.time_s for row in second.rows]) == ([2.0], [2.9])


def test_corrections_that_fit_no_swing_are_said() -> None:
    said = Corrections((ball(5.2),), (Verdict(swing="01-tee/001#2", near_s=5.0, miss=True),))
    assert "01-tee/001#2 at 5.00 s" in said.homeless((1.0,))
    assert "1 ball position set or taken out" in said.homeless(())
    assert said.homeless((4.9,)) == ""


def test_the_record_s_words_count_what_a_person_did() -> None:
    assert Fix((ball(1.0), ball(1.1), nothing(1.2)), 0.9, False, "a bunt").words == (
        "2 ball positions set",
        "1 ball position taken out",
        "contact",
        "excluded",
    )
    assert Fix().words == ()


def test_the_version_changes_with_every_correction_and_comes_back_with_it(tmp_path: Path) -> None:
    versions = [corrections_version(tmp_path, CLIP)]
    write_hand(tmp_path / hand_path(CLIP), [ball(1.0)])
    versions.append(corrections_version(tmp_path, CLIP))
    write_verdicts(tmp_path / verdict_path(CLIP), [Verdict(swing="01-tee/001#1", near_s=1.0, miss=True)])
    versions.append(corrections_version(tmp_path, CLIP))
    assert len(set(versions)) == 3
    assert len(read_corrections(tmp_path, CLIP).rows) == len(read_corrections(tmp_path, CLIP).verdicts) == 1
    write_verdicts(tmp_path / verdict_path(CLIP), [])
    write_hand(tmp_path / hand_path(CLIP), [])
    assert corrections_version(tmp_path, CLIP) == versions[0]


def test_rows_are_read_as_written_to_a_microsecond_and_a_hundredth_of_a_pixel(tmp_path: Path) -> None:
    path = tmp_path / "001.hand.csv"
    write_hand(path, [nothing(1.5), HandRow(0, 1.2345678, (100.126, 50.0), 9.504)])
    first, second = read_hand(path)
    assert (first.time_s, first.centre_px, first.diameter_px) == (1.234568, (100.13, 50.0), 9.5)
    assert (second.time_s, second.centre_px) == (1.5, None)
