"""Words for launch angles and for the time of contact, said only where they are sure."""

import pytest

from balltrack.field import PLATE_DEPTH_M
from balltrack.records.describe import flight_kind
from balltrack.records.swing import Swing
from balltrack.review.bands import Bands, timing
from balltrack.units import M_PER_IN
from tests.review.counted import hit

BANDS = Bands()


def met(ahead_in: float, inside_in: float = 0.0, sd_in: float = 0.5, bats: str = "right") -> Swing:
    """A ball met so far ahead of the plate's front edge, and so far toward the batter from the plate's middle."""
    x_m = inside_in * M_PER_IN * (-1 if bats == "right" else 1)  # a right-handed batter stands at negative x
    depth_m, sd_m = ahead_in * M_PER_IN, sd_in * M_PER_IN
    contact_m, sds_m = (x_m, PLATE_DEPTH_M + depth_m, 0.8), (sd_m, sd_m, sd_m)
    return hit(30.0, contact_m=contact_m, contact_sd_m=sds_m, contact_depth_m=depth_m)


def test_flights_are_named_as_in_the_record_unless_other_bands_are_given() -> None:
    for launch_deg in (-20.0, 9.9, 10.0, 24.9, 25.0, 50.0, 50.1):
        assert BANDS.flight(launch_deg) == flight_kind(launch_deg)
    assert Bands(line_drive_deg=20.0).flight(22.0) == "fly_ball"


@pytest.mark.parametrize(
    ("ahead_in", "inside_in", "word"),
    [  # the zones of Bands: middle -2 to 12 in, inside 4 to 18, outside -10 to 6 (judgement, no source)
        (5.0, 0.0, "on time"),
        (16.0, 0.0, "early"),
        (-6.0, 0.0, "late"),
        (-6.0, 6.0, "jammed"),
        (16.0, 6.0, "on time"),
        (-6.0, -6.0, "on time"),
        (12.0, 0.0, "not clear"),  # on the very edge
    ],
)
@pytest.mark.parametrize("bats", ["right", "left"])
def test_contact_is_named_by_where_the_pitch_was(ahead_in: float, inside_in: float, word: str, bats: str) -> None:
    assert timing(met(ahead_in, inside_in, bats=bats), "live", bats, BANDS) == word


def test_a_vague_contact_gets_no_word() -> None:
    # 16 in is 4 in beyond the zone's end: with 6 in of sd that is beyond it in 75 of 100 only.
    assert timing(met(16.0, sd_in=6.0), "live", "right", BANDS) == "not clear"


def test_a_tee_says_nothing_of_timing_and_neither_does_a_contact_without_its_error() -> None:
    assert timing(met(16.0), "tee", "right", BANDS) is None
    assert timing(hit(30.0), "live", "right", BANDS) is None


def test_a_players_own_zone_holds_for_all_pitches() -> None:
    own = (0.0, 4 * M_PER_IN)
    assert timing(met(8.0, 6.0), "live", "right", own) == "early"
    assert timing(met(8.0, -6.0), "live", "right", own) == "early"
    assert timing(met(-4.0, 6.0), "live", "right", own) == "jammed"
