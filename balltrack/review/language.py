"""What a reader is told, said from the table of one language: English, unless another table is spoken."""

import gettext
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import lru_cache

from balltrack.review.strings import ENGLISH, FORMS

Texts = Mapping[str, str]

_SPOKEN: ContextVar[Texts] = ContextVar("texts", default=ENGLISH)


@contextmanager
def speaking(texts: Texts) -> Iterator[None]:
    """Say everything from another table, with the keys of `strings.ENGLISH`, in this thread until the block ends."""
    token = _SPOKEN.set(texts)
    try:
        yield
    finally:
        _SPOKEN.reset(token)


def texts() -> Texts:
    """The table that is spoken."""
    return _SPOKEN.get()


def say(name: str, /, **places: object) -> str:
    """The text of a name with its places filled in; of a text with several forms, that which goes with ``count``."""
    forms = texts()[name].split(FORMS)
    form = forms[0] if len(forms) == 1 else forms[_chooser(texts()["plural"])(int(str(places["count"])))]
    return form.format(**places)


def listed(words: Sequence[str]) -> str:
    """``3``, ``3 and 5``, ``3, 5 and 8``."""
    if len(words) < 2:
        return "".join(words)
    return say("listed", first=", ".join(words[:-1]), last=words[-1])


@lru_cache
def _chooser(plural: str) -> Callable[[int], int]:
    """Which form a number takes, from the expression that gettext's catalogues have for each language."""
    return gettext.c2py(plural)
