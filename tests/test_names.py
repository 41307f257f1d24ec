"""How many names are put on one line."""

from hypothesis import given
from hypothesis import strategies as st

from balltrack.names import listed

NAMES = st.lists(st.text("abc", min_size=1), min_size=1, max_size=40, unique=True)


@given(names=NAMES)
def test_a_list_tells_the_first_names_and_counts_the_others_so_that_none_is_lost(names: list[str]) -> None:
    told, _, rest = listed(names).partition(" and ")
    first = told.split(", ")
    assert first == names[: len(first)]
    assert len(first) + (int(rest.split()[0]) if rest else 0) == len(names)


def test_few_names_are_all_told_and_of_sixty_no_more_than_a_line_holds() -> None:
    clips = [f"clips/02-toss/{number:03d}.mp4" for number in range(60)]
    assert listed(clips[:3]) == ", ".join(clips[:3])
    assert listed(clips).endswith("clips/02-toss/003.mp4 and 56 more")
    assert len(listed(clips)) < 110
