"""Lines of chalk that may be a batter's box, in pictures drawn from known cameras."""

import numpy as np
import pytest

from balltrack.camera.chalk_boxes import BoxView, box_views, chalk_edges
from balltrack.camera.plate_finder import propose_marks
from tests.camera.plate_scene import Look, draw
from tests.camera.scene import BEHIND, BOXES, OPEN_SIDE, PLATE, Truth, View, truth

CENTRE_PX = np.array([959.5, 539.5])
# Over a third of the plate and over nothing else: a leg, or a foot of a tee. [m]
THIRD_OF_PLATE = ((-0.3, -0.05), (-0.3, 0.5), (-0.08, 0.5), (-0.08, -0.05))


def nearest_m(views: list[BoxView], filmed: Truth) -> float:
    """How far the best of the views is from where the phone stood."""
    return min(float(np.linalg.norm(view.parameters[3:6] - filmed.unknowns[3:6])) for view in views)


@pytest.mark.parametrize("view", [BEHIND, OPEN_SIDE], ids=["behind", "45 degrees behind"])
def test_boxes_alone_tell_about_where_the_phone_stands(view: View) -> None:
    # A start for the fit, which reaches as far as half a metre off: with the lens known, chalk edges to a pixel or two
    # over a box some 300 px long give better than a tenth of the 5 m.
    filmed = truth(view)
    views = box_views(draw(filmed, Look(plate=False)).luma, "softball-12", 1600.0, CENTRE_PX)
    assert nearest_m(views, filmed) < 0.3


def test_chalk_kicked_away_in_places_is_still_one_line() -> None:
    filmed = truth(BEHIND)
    views = box_views(draw(filmed, Look(chalk_share=0.7), seed=2).luma, "softball-12", 1600.0, CENTRE_PX)
    assert nearest_m(views, filmed) < 0.5


def test_every_edge_has_its_stripe_on_the_right() -> None:
    luma = np.full((1080, 1920), 90, np.uint8)
    luma[500:512, 400:900] = 220  # one stripe: its upper edge runs to the right, its lower edge to the left
    edges = chalk_edges(luma)
    # An edge between two rows lies half way between their centres: at 499.5 and 511.5.
    upper = [line for line in edges if abs(line[:, 1].mean() - 499.5) < 1.0]
    lower = [line for line in edges if abs(line[:, 1].mean() - 511.5) < 1.0]
    assert upper and all(line[1, 0] > line[0, 0] for line in upper)
    assert lower and all(line[1, 0] < line[0, 0] for line in lower)


@pytest.mark.parametrize("look", [Look(boxes=()), Look(plate=False, boxes=())], ids=["a lone plate", "bare ground"])
def test_where_no_chalk_is_no_box_is_seen(look: Look) -> None:
    assert box_views(draw(truth(BEHIND), look).luma, "softball-12", 1600.0, CENTRE_PX) == []


def test_a_plate_partly_hidden_is_found_by_its_boxes() -> None:
    filmed = truth(OPEN_SIDE)
    proposal = propose_marks(draw(filmed, Look(hidden=THIRD_OF_PLATE)), "softball-12")
    assert len(proposal.marks) >= 8
    true = filmed.see(np.array([(PLATE | BOXES)[mark.name] for mark in proposal.marks]))
    off = np.array([mark.pixel_px for mark in proposal.marks]) - true
    # One and a half careful clicks (0.8 px each: common practice, no source), as for a bare plate.
    assert np.max(np.hypot(off[:, 0], off[:, 1])) < 1.2
