"""How many of the balls in patches a detector finds, by size, blur and scene, and how often it finds what is none."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from balltrack.detect.network import Network
from balltrack.training.example import judge, look
from detector.patch import Patch

SIZES_PX = (0.0, 4.0, 6.0, 8.0, 12.0, 20.0, 1000.0)
BLURS = (0.0, 0.5, 1.0, 3.0, 1000.0)  # streak over diameter


@dataclass(frozen=True, slots=True, eq=False)
class Scores:
    """One row a patch."""

    diameter_px: NDArray[np.float64]  # (n,) 0 where no ball flies
    blur: NDArray[np.float64]  # (n,)
    scene: NDArray[np.str_]  # (n,)
    found: NDArray[np.bool_]  # (n,)
    false: NDArray[np.int64]  # (n,) finds that are no ball
    error_px: NDArray[np.float64]  # (n,) of the middle; NaN where not found

    def row(self, chosen: NDArray[np.bool_]) -> str:
        """Recall, precision, error and count of some of the patches, as cells of a Markdown table."""
        balls = chosen & (self.diameter_px > 0)
        found, false = int((self.found & balls).sum()), int(self.false[chosen].sum())
        if not balls.any():
            return f"– | – | – | 0 | {false / max(int(chosen.sum()), 1):.3f}"
        error = float(np.median(self.error_px[self.found & balls])) if found else float("nan")
        return (
            f"{found / int(balls.sum()):.3f} | {found / max(found + false, 1):.3f} | {error:.2f} px | "
            f"{int(balls.sum())} | {false / int(chosen.sum()):.3f}"
        )


def score(network: Network, patches: Iterable[Patch]) -> Scores:
    """Look at every patch."""
    kept = list(patches)
    finds = look(network, [patch.frames for patch in kept])
    judged = [judge(patch.box_px, found) for patch, found in zip(kept, finds, strict=True)]
    return Scores(
        diameter_px=np.array([patch.diameter_px for patch in kept]),
        blur=np.array([patch.streak_px / max(patch.diameter_px, 1e-9) for patch in kept]),
        scene=np.array([patch.scene for patch in kept]),
        found=np.array([np.isfinite(error) for error, _ in judged]),
        false=np.array([false for _, false in judged]),
        error_px=np.array([error for error, _ in judged]),
    )


def table(scores: Scores) -> str:
    """Markdown: recall, precision, error of the middle, balls, false finds a patch."""
    head = "| | recall | precision | middle off by (median) | balls | false finds a patch |"
    lines = [head, "|---|---|---|---|---|---|"]
    every = np.ones(len(scores.found), np.bool_)
    lines.append(f"| all | {scores.row(every)} |")
    for low, high in pairwise(SIZES_PX):
        chosen = (scores.diameter_px > low) & (scores.diameter_px <= high)
        if chosen.any():
            lines.append(f"| ball of {low:g} to {high:g} px | {scores.row(chosen)} |")
    for low, high in pairwise(BLURS):
        chosen = (scores.diameter_px > 0) & (scores.blur >= low) & (scores.blur < high)
        if chosen.any():
            lines.append(f"| streak of {low:g} to {high:g} diameters | {scores.row(chosen)} |")
    for scene in np.unique(scores.scene).tolist():
        lines.append(f"| {scene} | {scores.row(scores.scene == scene)} |")
    lines.append(f"| no ball there | {scores.row(scores.diameter_px == 0)} |")
    return "\n".join(lines) + "\n"
