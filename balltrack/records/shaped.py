"""Values that come out of a file of our own, held to the type and shape that the program put in.

Everything raises ValueError or TypeError where a value is another; whoever reads the file says which file it is.
"""

from collections.abc import Mapping
from typing import Any, cast

import numpy as np

from balltrack.units import Floats

LARGEST = 1e9  # pixels, metres, seconds, and their squares, are smaller
# What reading damaged JSON raises: besides wrong values, nesting without end and numbers that no float holds.
DAMAGED = (OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError)


def table(value: object) -> Mapping[str, Any]:
    """A JSON object."""
    if not isinstance(value, dict):
        raise TypeError(f"{_brief(value)} stands where names and values should")
    return value


def rows(value: object) -> list[Any]:
    """A JSON list."""
    if not isinstance(value, list):
        raise TypeError(f"{_brief(value)} stands where a list should")
    return value


def word(value: object) -> str:
    """A text."""
    if not isinstance(value, str):
        raise TypeError(f"{_brief(value)} stands where a word should")
    return value


def words(value: object) -> tuple[str, ...]:
    """A list of texts."""
    return tuple(word(each) for each in rows(value))


def flag(value: object) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise TypeError(f"{_brief(value)} stands where true or false should")
    return value


def number(value: object) -> float:
    """A number; null, which stands for NaN inside an array, is none here."""
    if type(value) not in (int, float):
        raise TypeError(f"{_brief(value)} stands where a number should")
    return float(cast(float, value))


def maybe_number(value: object) -> float | None:
    """A number, or null."""
    return None if value is None else number(value)


def whole(value: object) -> int:
    """A whole number."""
    if type(value) is not int:
        raise TypeError(f"{_brief(value)} stands where a whole number should")
    return value


def array(value: object, *shape: int) -> Floats:
    """An array of that shape, -1 for any length; null is NaN. An empty list is empty in any shape that has no row."""
    found = np.array(rows(value), dtype=np.float64)
    if found.size == 0 and shape[0] in (-1, 0):
        return np.zeros((0, *(max(each, 0) for each in shape[1:])))
    if found.ndim != len(shape) or any(want not in (-1, has) for has, want in zip(found.shape, shape, strict=True)):
        raise ValueError(f"an array of shape {found.shape} stands where {shape} should")
    return found


def measured(value: object, *shape: int) -> Floats:
    """An array of that shape whose every number is there and of a size that a lesson can have."""
    found = array(value, *shape)
    if not np.all(np.abs(found) < LARGEST):  # NaN is not
        raise ValueError(f"a number is missing, or larger than {LARGEST:g}")
    return found


def covariance(value: object, size: int) -> Floats:
    """A (size, size) covariance: symmetric, and no direction with less than no variance, but for rounding."""
    found = measured(value, size, size)
    variances = np.linalg.eigvalsh((found + found.T) / 2)
    if not np.allclose(found, found.T, rtol=1e-6) or variances[0] < -1e-9 * abs(variances[-1]):
        raise ValueError("numbers that should be a covariance are none")
    return found


def _brief(value: object) -> str:
    kinds = {dict: "a table", list: "a list", str: "a text", type(None): "null"}
    return kinds.get(type(value), str(value)[:40])
