"""Motion and network confirm each other: the network looks where something moves, and adds what motion has missed."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from balltrack.detect.candidates import Candidates
from balltrack.detect.network import LEAST_SCORE, Finds, Network
from balltrack.detect.triple import SIDE_PX, Triple, corner_around, part_of
from balltrack.units import Floats

MARGIN_PX = 24  # around each candidate inside it
CELL_PX = SIDE_PX - 2 * MARGIN_PX
MOST_PARTS = 4  # of one frame, first those in which something stands out most from the flicker around it
SHRUNK_PX = 4.0  # whole pictures are shrunk before they are searched, down to this width of the ball
SLACK_PX = 2.0  # a candidate belongs to a find whose box, grown by this, holds its centre
ALIKE_LOG = 0.45  # sides of one ball's boxes, by motion and by the network, differ by less than half
NOT_BY_MOTION = 1.0  # contrast over the flicker limit of what only the network found: it is not above it


def confirm(network: Network, triple: Triple, found: Candidates, looked: NDArray[np.bool_]) -> Candidates:
    """Ask the network about some of a frame's candidates.

    Parameters
    ----------
    network : Network
    triple : Triple
        Whose middle frame has the candidates.
    found : Candidates
        By motion.
    looked : (n,) array of bool
        Those worth a look.

    Returns
    -------
    Candidates
        The same with ``likeness`` set where the network has looked, and then what only the network found.
    """
    corners = _parts(found.only(looked), triple.now.luma.shape)
    if not len(corners):
        return found
    finds = _finds_in(network, triple, corners)
    inside = (found.centre_px[:, None] >= corners[None]) & (found.centre_px[:, None] <= corners[None] + SIDE_PX - 1)
    seen = np.any(np.all(inside, axis=2), axis=1)
    return add_finds(replace(found, likeness=np.where(seen, 0.0, found.likeness)), finds, triple)


def add_finds(found: Candidates, finds: Finds, triple: Triple) -> Candidates:
    """Set the likeness of the candidates that the network has found, and add what only it has found whole.

    Behind a net, motion sees a ball in pieces: these are not the ball.
    """
    held = _holds(finds, found.centre_px)
    whole = held & _alike(found, finds)
    likeness = np.where(np.any(held, axis=1), 0.0, found.likeness)
    score = np.where(whole, finds.score[None], 0.0).max(axis=1, initial=0.0)
    judged = replace(found, likeness=np.where(np.any(whole, axis=1), score, likeness))
    return judged.joined(_as_candidates(finds, np.logical_not(np.any(whole, axis=0)), triple))


def _alike(found: Candidates, finds: Finds) -> NDArray[np.bool_]:
    """(n, m) whether a candidate's own box is of a find's size."""
    run = (found.length_px - found.width_px)[:, None] * np.abs(found.axis)
    own = (found.width_px[:, None] + run)[:, None]
    sides = np.maximum(finds.box_px[:, 2:] - finds.box_px[:, :2], 1.0)[None]
    return np.asarray((np.abs(np.log(own / sides)) < ALIKE_LOG + 1.0 / sides).all(axis=2))


def look_around(network: Network, triple: Triple, centre_px: Floats) -> Finds:
    """What the network finds in the part of the picture around one place (2,)."""
    return _finds_in(network, triple, corner_around(centre_px, triple.now.luma.shape)[None])


def look_everywhere(network: Network, triple: Triple, found: Candidates, width_px: float) -> Candidates:
    """Add to a frame's candidates what the network finds in the whole picture, of a ball at least so wide."""
    shrink = max(int(width_px / SHRUNK_PX), 1)
    return add_finds(found, network.find(*triple.planes, shrink=shrink), triple)


def _parts(found: Candidates, size: tuple[int, ...]) -> NDArray[np.intp]:
    """(m, 2) u, v of the top-left pixel of the parts that hold the candidates, each with a margin."""
    cells, cell = np.unique(np.floor(found.centre_px / CELL_PX).astype(np.intp), axis=0, return_inverse=True)
    contrast = np.zeros(len(cells))
    np.maximum.at(contrast, cell.ravel(), found.contrast)
    chosen = cells[np.argsort(-contrast, kind="stable")[:MOST_PARTS]]
    last = [max(size[1] - SIDE_PX, 0), max(size[0] - SIDE_PX, 0)]
    return np.unique(np.clip(chosen * CELL_PX - MARGIN_PX, 0, last), axis=0)


def _finds_in(network: Network, triple: Triple, corners: NDArray[np.intp]) -> Finds:
    """The finds of some parts, in the picture's pixels; what two parts share is given once."""
    finds = network.look(np.stack([part_of(triple.planes, corner) for corner in corners]))
    box = np.concatenate([each.box_px + np.tile(corner, 2) for each, corner in zip(finds, corners, strict=True)])
    score = np.concatenate([each.score for each in finds])
    order = np.argsort(-score, kind="stable")
    everything = Finds(box[order], score[order])
    inside = _holds(everything, everything.centre_px)  # [a, b]: a's centre lies in b's box
    first = ~np.tril(inside, -1).any(axis=1)
    return Finds(everything.box_px[first], everything.score[first])


def _holds(finds: Finds, centre_px: Floats) -> NDArray[np.bool_]:
    """(n, m) whether a centre lies in a find's box."""
    low, high = finds.box_px[None, :, :2] - SLACK_PX, finds.box_px[None, :, 2:] + SLACK_PX
    return np.asarray(((centre_px[:, None] >= low) & (centre_px[:, None] <= high)).all(axis=2))


def _as_candidates(finds: Finds, chosen: NDArray[np.bool_], triple: Triple) -> Candidates:
    """Finds without a candidate of their own, described by their boxes: a streak runs along the longer side."""
    box, frame = finds.box_px[chosen], triple.now
    sides = box[:, 2:] - box[:, :2]
    centre = 0.5 * (box[:, :2] + box[:, 2:])
    axis = np.where((sides[:, :1] >= sides[:, 1:]), [[1.0, 0.0]], [[0.0, 1.0]])
    u, v = np.clip(np.rint(centre), 0, [frame.luma.shape[1] - 1, frame.luma.shape[0] - 1]).astype(np.intp).T
    half_v, half_u = np.minimum(v // 2, frame.cb.shape[0] - 1), np.minimum(u // 2, frame.cb.shape[1] - 1)
    colour = np.stack([frame.luma[v, u], frame.cb[half_v, half_u], frame.cr[half_v, half_u]], axis=1).astype(np.float64)
    return Candidates(
        frame.time_s, centre, sides.min(axis=1, initial=np.inf), sides.max(axis=1, initial=0.0), axis, colour,
        np.full(len(box), NOT_BY_MOTION), np.maximum(finds.score[chosen], LEAST_SCORE),
    )  # fmt: skip
