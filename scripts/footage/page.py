"""What a score on real footage reads like: lines for the terminal and a page."""

from collections.abc import Iterable, Sequence

import numpy as np

from balltrack.detect.network import LEAST_SCORE
from balltrack.units import Floats
from footage.labels import LABEL_ERROR_PX, LEAST_REACH_PX
from footage.score import ClipScore

OTHER_SCORES = (0.1, 0.25, 0.4, 0.6, 0.8)
HEAD = "| clip | frames | ball in flight | found | recall | off, median px | false per frame | twice | held or hidden |"
RULE = "| --- " + "| ---: " * 8 + "|"


def page(scores: Sequence[ClipScore], weights: str, pictures: str) -> str:
    """The report in Markdown.

    Parameters
    ----------
    scores : of clips with labels and of clips without a ball
    weights : how the judged weights are named
    pictures : folder of the sheets, as the page links to it; a sheet is linked where its clip may be shown
    """
    labelled, empty = [each for each in scores if each.flights], [each for each in scores if not each.flights]
    missed = [each for each in labelled if each.misses]
    return "\n".join([
        "# The detector on real footage",
        "",
        f"Written by `scripts/score_footage.py`; weights: {weights}; every frame whole, least score {LEAST_SCORE:g}.",
        "The ball was labelled by hand (`tests/footage_labels/README.md`). A find is the ball where its middle lies",
        f"no farther from the label than half the ball and {LABEL_ERROR_PX:g} px, half the streak, or "
        f"{LEAST_REACH_PX:g} px, whichever is most.",
        "*Twice*: further finds on a ball already found. *Held or hidden*: finds on or beside a ball in the hand, at",
        "rest or mostly hidden, neither right nor wrong. No labelled clip was seen in training; of those without a",
        "ball indoor_woodfloor, handheld_skyline, exo_video_desks and exo_video_1 lent backgrounds to it.",
        "", HEAD, RULE, *map(row, labelled), *([row_of_all(labelled)] if len(labelled) > 1 else []), *map(row, empty),
        "", "## Were the least score another", "",
        "| least score | recall | false per frame |", "| ---: | ---: | ---: |",
        *(_sweep_row(labelled, scores, least) for least in OTHER_SCORES),
        "", "## Missed", "",
        *(line for each in missed for line in _missed(each, pictures)),
        *([] if missed else ["None.", ""]),
    ])  # fmt: skip


def row(score: ClipScore) -> str:
    """A clip's line of the table."""
    return _row(score.clip.name, [score])


def row_of_all(scores: Sequence[ClipScore]) -> str:
    """The line of all labelled clips together."""
    return _row("all labelled", scores)


def _row(name: str, scores: Sequence[ClipScore]) -> str:
    flights, found = sum(each.flights for each in scores), sum(each.found() for each in scores)
    frames = sum(each.frames for each in scores)
    off = np.concatenate([each.off_px[each.flight_scores > LEAST_SCORE] for each in scores])
    false = _count(each.false_scores for each in scores) / max(frames, 1)
    doubles = _count(each.double_scores for each in scores)
    excused = _count(each.excused_scores for each in scores)
    cells = (
        name, frames, flights or "-", found if flights else "-", f"{found / flights:.3f}" if flights else "-",
        f"{np.median(off):.1f}" if len(off) else "-", f"{false:.3f}", doubles, excused,
    )  # fmt: skip
    return f"| {' | '.join(map(str, cells))} |"


def _sweep_row(labelled: Sequence[ClipScore], scores: Sequence[ClipScore], least: float) -> str:
    flights, found = sum(each.flights for each in labelled), sum(each.found(least) for each in labelled)
    false = sum(each.false_per_frame(least) * each.frames for each in scores) / max(sum(s.frames for s in scores), 1)
    return f"| {least:g} | {f'{found / flights:.3f}' if flights else '-'} | {false:.3f} |"


def _missed(score: ClipScore, pictures: str) -> list[str]:
    frames = [miss.label.frame for miss in score.misses]
    lines = [f"{score.clip.name}, {len(frames)} of {score.flights}: frames {runs(frames)}.", ""]
    if score.clip.publish:
        name = score.clip.name
        picture = f"![every missed ball of {name}, three frames each]({pictures}/{name}.png)"
        lines += [picture, "", f"Pictures: {score.clip.credit}; cut and marked, under the same licence.", ""]
    return lines


def runs(frames: Sequence[int]) -> str:
    """Frame numbers with neighbours drawn together: 3-5, 9."""
    firsts = [at for at, frame in enumerate(frames) if at == 0 or frame != frames[at - 1] + 1]
    lasts = [at - 1 for at in firsts[1:]] + [len(frames) - 1]
    return ", ".join(
        f"{frames[a]}-{frames[b]}" if b > a else str(frames[a]) for a, b in zip(firsts, lasts, strict=True)
    )


def _count(each_scores: Iterable[Floats]) -> int:
    return sum(int(np.sum(scores > LEAST_SCORE)) for scores in each_scores)
