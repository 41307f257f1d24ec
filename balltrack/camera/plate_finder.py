"""Home plate and the batter's boxes, found in a still picture without a person's help."""

from dataclasses import dataclass

from balltrack.camera.marks import LensPrior
from balltrack.camera.model import Camera
from balltrack.camera.still import Still


@dataclass(frozen=True, slots=True)
class ProposedMark:
    """A named point of the field, and where in the picture it was found."""

    name: str
    pixel_px: tuple[float, float]
    sd_px: float  # one standard deviation along u or v


@dataclass(frozen=True, slots=True)
class Proposal:
    """What was found. Without marks, ``words`` say why not and what to do."""

    marks: tuple[ProposedMark, ...]
    words: str


def propose_marks(still: Still, ball_kind: str, lens: LensPrior | None = None) -> Proposal:
    """Find the plate's corners and the outside corners of the batter's boxes.

    Parameters
    ----------
    still : Still
    ball_kind : str
        One of ``BALL_KINDS``: whose rules draw the batter's boxes.
    lens : LensPrior, optional
        Without: any phone's.

    Returns
    -------
    Proposal
        Only marks of which the picture leaves no doubt; none where no plate stands out.
    """
    return Proposal((), "no home plate stands out in this picture; click its corners")


def refine_mark(
    still: Still, name: str, pixel_px: tuple[float, float], camera: Camera | None = None
) -> ProposedMark | None:
    """Move a person's click to the chalk's true corner.

    Parameters
    ----------
    still : Still
    name : str
        The named point that was clicked.
    pixel_px : (float, float)
        Where.
    camera : Camera, optional
        As solved from the marks so far: tells in which directions the edges run.

    Returns
    -------
    ProposedMark or None
        None where no clear corner is near.
    """
    return None
