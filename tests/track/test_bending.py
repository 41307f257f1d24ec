import numpy as np
from pytest import approx

from balltrack.track.bending import SIZE, Course, Eye, Known, Missed, bent, spreads
from balltrack.track.meeting import DETECTED, Foreseen, Found, met
from balltrack.units import Floats

EYE = Eye(np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]), 1400.0)


def course(rng: np.random.Generator, arcs: int, times: int) -> Course:
    local = rng.normal([0.0, 0.0, 10.0], 1.0, (arcs, times, 3))
    by_lift = rng.normal(0, 0.1, (arcs, times, 3, 2))
    return Course(rng.uniform(0, 0.5, (arcs, times)), local, rng.normal(0, 20, (arcs, times, 3)), by_lift)


def slopes(of: Course, k: int, m: int) -> Floats:
    """(3, 9) of u, v and log width, by hand: a pinhole's derivative, then the chain rule."""
    x, y, depth = of.local_m[k, m]
    pull = EYE.focal_px / depth
    pinhole = np.array([[pull, 0, -pull * x / depth], [0, pull, -pull * y / depth], [0, 0, -1 / depth]])
    by_place = pinhole @ EYE.turn
    by_time_and_lift = by_place @ np.column_stack([-of.velocity_mps[k, m], of.by_lift[k, m]])
    return np.concatenate([by_place, by_place * of.elapsed_s[k, m], by_time_and_lift], axis=1)


def test_a_step_solves_the_normal_equations_of_what_was_seen() -> None:
    rng = np.random.default_rng(1)
    where, known = course(rng, 4, 6), Known(np.zeros(SIZE), np.linspace(0.5, 2.0, SIZE), 3.0)
    arcs = rng.normal(0, 0.1, (4, SIZE))
    now_px, width_px = rng.normal(500, 100, (4, 6, 2)), rng.uniform(8, 20, (4, 6))
    seen_px, seen_width_px = now_px + rng.normal(0, 2, (4, 6, 2)), width_px * np.exp(rng.normal(0, 0.1, (4, 6)))
    seen_width_px[:, 2] = np.nan
    sds = np.full((4, 6), 1.5), np.full((4, 6), 0.2)
    stepped, covariance = bent(arcs, where, Missed(now_px, width_px, seen_px, seen_width_px, *sds), known, EYE)
    for k in range(4):
        normal, pull = np.diag(1 / known.sd**2), (known.mean - arcs[k]) / known.sd**2
        for m in (0, 1, 3, 4, 5):
            off = np.append(seen_px[k, m] - now_px[k, m], np.log(seen_width_px[k, m] / width_px[k, m]))
            weight = np.array([1.5, 1.5, 0.2]) ** -2.0
            weight /= 1 + off**2 @ weight / 16
            normal += slopes(where, k, m).T @ np.diag(weight) @ slopes(where, k, m)
            pull += slopes(where, k, m).T @ (weight * off)
        step = np.linalg.solve(normal, pull)
        expected = arcs[k] + step * min(1.0, 12.0 / np.max(np.abs(step[:6])))
        expected[:3] = np.clip(expected[:3], -3 * known.sd[:3], 3 * known.sd[:3])
        assert stepped[k] == approx(expected, abs=1e-6)  # of sds of 0.5 and more; the ridge moves it by 1e-7
        assert covariance[k] == approx(np.linalg.inv(normal), rel=1e-5, abs=1e-8)


def test_doubt_of_an_arc_spreads_into_the_picture_by_the_chain_rule() -> None:
    rng = np.random.default_rng(2)
    where, root = course(rng, 3, 5), rng.normal(0, 0.1, (3, SIZE, SIZE))
    covariance = root @ np.swapaxes(root, 1, 2)
    spread = spreads(where, covariance, EYE)
    for k in range(3):
        for m in range(5):
            by = slopes(where, k, m)[:2]
            assert spread[k, m] == approx(by @ covariance[k] @ by.T, rel=1e-9, abs=1e-9)


def test_the_likelier_of_two_candidates_is_met_and_none_by_a_vague_guess() -> None:
    # Two candidates 1 px and 3 px off, of the ball's own width; the arc is known to 1 px, each candidate to 1 px.
    spread = np.array([np.eye(2), np.eye(2), 1e6 * np.eye(2)])[None]
    centre, width = np.zeros((1, 3, 2)), np.full((1, 3), 10.0)
    foreseen = Foreseen(np.ones((1, 3), bool), centre, width, spread, np.ones((1, 3)), np.full((1, 3), 0.2))
    places = np.array([[3.0, 0.0], [1.0, 0.0], [1.0, 0.0]])
    rows = np.array([0, 2, 2]), np.array([2, 2, 3])  # two in the first frame, none in the second, one in the third
    found = Found(*rows, places, np.full(3, np.log(10.0)), np.full(3, np.log(1e-5)))
    index, gain = met(foreseen, found)
    assert index.tolist() == [[1, -1, -1]]
    # By hand: density of a normal of variance 2 at 1 px off, half a unit for the width, chance, and being detected.
    assert gain[0, 0] == approx(-np.log(4 * np.pi) - 0.25 + 0.5 - np.log(1e-5) + np.log(DETECTED))
    assert gain[0, 1:] == approx([np.log(1 - DETECTED), 0.0])
