"""Names of files and folders as a person may see them: on one line, and nothing in them hidden."""

import unicodedata

# Controls and line ends; halves of letters, which names that are not UTF-8 become; what turns the letters after it
# around so that a name reads as another. Plain right-to-left letters are none of these.
_HIDDEN_KINDS = frozenset({"Cc", "Cs", "Zl", "Zp"})
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def hides_letters(name: str) -> bool:
    """Whether a name holds a letter that breaks a line, cannot be shown or hides others."""
    return any(_is_hidden(letter) for letter in name)


def shown(name: str) -> str:
    """The name with such letters written as a program writes them: a line break as ``\\n``."""
    return "".join(ascii(letter)[1:-1] if _is_hidden(letter) else letter for letter in name)


def _is_hidden(letter: str) -> bool:
    return letter in _TURNING or unicodedata.category(letter) in _HIDDEN_KINDS
