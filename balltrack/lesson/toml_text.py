"""A TOML text read as Python's own reader does, without what that stumbles over."""

import tomllib
from typing import Any

MOST_NESTED = 30  # lesson.toml nests four deep; endless nesting ends every reader in its own way
LARGEST_INT = 2**63  # TOML 1.0.0, "Integer": 64 bits


def values_in(text: str) -> dict[str, Any]:
    """What a text says. Raises tomllib.TOMLDecodeError where it is not TOML, or none that a person would write."""
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise
    except RecursionError:
        raise tomllib.TOMLDecodeError(f"nested more than {MOST_NESTED} deep") from None
    except ValueError:  # Python makes no number of more than 4300 digits
        raise tomllib.TOMLDecodeError("a whole number is too long") from None
    _check(values)
    return values


def _check(values: dict[str, Any]) -> None:
    level: list[Any] = [values]
    for _ in range(MOST_NESTED):
        level = [inner for each in level for inner in _inside(each)]
        if any(type(each) is int and not -LARGEST_INT <= each < LARGEST_INT for each in level):
            raise tomllib.TOMLDecodeError("a whole number has more than 64 bits")
    if level:
        raise tomllib.TOMLDecodeError(f"nested more than {MOST_NESTED} deep")


def _inside(value: Any) -> list[Any]:
    if isinstance(value, dict):
        return list(value.values())
    return value if isinstance(value, list) else []
