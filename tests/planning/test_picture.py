import io
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.image import imread

from balltrack.planning.advice import checks, recommendation
from balltrack.planning.outlook import outlook
from balltrack.planning.picture import SHADES, draw_plan, plan_bytes
from balltrack.planning.safety import SafeZones
from balltrack.planning.survey import DISTANCES_M, Survey, bearings_rad
from balltrack.records.table import Units
from tests.planning.scenes import BEHIND_M, CALIBRATED, scene

ZONES = SafeZones("right", "softball-12", screen=False)


@pytest.fixture(scope="module")
def found() -> Survey:
    """A map that grows with distance, about a place that is judged in earnest."""
    bearings = bearings_rad(ZONES)
    error = np.broadcast_to(0.1 * DISTANCES_M, (len(bearings), len(DISTANCES_M)))
    return Survey(DISTANCES_M, bearings, error, np.ones_like(error), outlook(BEHIND_M, scene()))


@pytest.mark.parametrize(
    ("units", "words"),
    [
        ("us", ("mph", "18 ft straight behind", "lens 5 ft up")),
        ("metric", ("km/h", "5.5 m straight behind", "lens 1.5 m up")),
    ],
)
def test_the_picture_says_units_distance_height_and_caution(found: Survey, units: Units, words: tuple[str]) -> None:
    svg = plan_bytes(draw_plan(found, scene(), ZONES, units), "svg")
    text = " ".join(" ".join(ET.fromstring(svg).itertext()).split())
    for word in (*words, "stand here", "no phone, no person", "Batted balls and thrown bats hurt"):
        assert word in text


def test_the_map_reads_in_grey_and_to_colour_blind_eyes() -> None:
    # Rec. 709 luminance; steps of 5 % of the range from black to white are told apart side by side (common practice).
    grey = [float(np.dot([0.2126, 0.7152, 0.0722], to_rgb(shade))) for shade in SHADES]
    assert np.diff(grey).max() < -0.05


def test_the_png_holds_more_than_paper(found: Survey) -> None:
    picture = imread(io.BytesIO(plan_bytes(draw_plan(found, scene(), ZONES, "us"), "png")))
    assert picture.shape[0] > 1500
    assert np.mean(picture[..., :3].min(axis=2) < 0.9) > 0.1


def test_the_one_line_says_where_how_high_and_what_to_expect(found: Survey) -> None:
    line = recommendation(found.best, scene(), "us")
    # By hand: 5.5 m are 18.04 ft, to half a foot; 1.5 m are 4.92 ft.
    assert line.startswith("Stand 18 ft straight behind the plate, the lens 5 ft up, behind a net or screen")
    assert "mph" in line
    assert "\n" not in line


def test_every_check_has_its_why_and_the_phones_own_figures() -> None:
    made = scene(replace(CALIBRATED, frames_per_s=240.0, shutter_s=1 / 500))
    listed = list(checks(made, "us"))
    assert all(check.what and check.why for check in listed)
    words = " ".join(f"{check.what}: {check.why}" for check in listed)
    # By hand: 65 mph = 29.06 m/s; in 1/240 s 0.121 m, 0.4 ft; in 1/500 s 58 mm of a ball of 97 mm, 0.6 of it.
    for word in (
        "240 frames",
        "1/500 s",
        "0.5 ft",
        "0.6 of its own width",
        "Stabilisation off",
        "Sun behind",
        "Horizon",
    ):
        assert word in words
