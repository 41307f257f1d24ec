"""What a coach reads after a recording was split."""

from balltrack.recording.split import BY_MOTION, CutBlock, Split


def lines(split: Split) -> list[str]:
    """Lines for the terminal: how many swings, by block, and what to do next."""
    swings = [swing for block in split.blocks for swing in block.swings]
    length = clock(split, split.end_s)
    if not swings and not split.problems:
        why = "nothing moves as swings do" if split.told_by == BY_MOTION else "no crack comes with a swing"
        return [f"No swing was found in the {length} of {split.recording.name}: {why}.", *_told(split)]
    heard = sum(swing.contact.heard for swing in swings)
    missed = len(swings) - heard
    words = f"{_count(len(swings), 'swing')} in the {length} of {split.recording.name}: {heard} with a crack"
    without = f", {missed} without (a miss, or a practice swing)" if missed else ""
    table = [_block(split, block) for block in split.blocks]
    old = sum(not swing.new for swing in swings)
    there = [f"{_count(old, 'clip')} of them had been cut before and stayed."] if old else []
    problems = [f"Not cut: {problem}" for problem in split.problems]
    return [words + without + ".", *table, *there, *_told(split), *problems, *_next(split)]


def clock(split: Split, time_s: float) -> str:
    """A time of the recording as a player shows it: 12:30."""
    seconds = round((time_s - split.begin_s) / split.time_scale)
    hours, minutes = divmod(seconds // 60, 60)
    return f"{hours}:{minutes:02d}:{seconds % 60:02d}" if hours else f"{minutes}:{seconds % 60:02d}"


def _block(split: Split, block: CutBlock) -> str:
    if not block.swings:
        return f"  clips/{block.name}: no swing"
    first, last = block.swings[0], block.swings[-1]
    when = f"{clock(split, first.contact.time_s)} to {clock(split, last.contact.time_s)}"
    return f"  clips/{block.name}: {_count(len(block.swings), 'swing')}, {when}"


def _told(split: Split) -> list[str]:
    return [f"Swings are told from other motion {split.told_by}.", *(f"Note: {notice}." for notice in split.notices)]


def _next(split: Split) -> list[str]:
    return [
        "Look through the clips and delete what is no swing at a ball. Then: "
        f"balltrack desk {split.folder} marks the field, balltrack measure {split.folder} measures."
    ]


def _count(number: int, what: str) -> str:
    return f"{number} {what}" + ("" if number == 1 else "s")
