"""Inner loops compiled to machine code, once: what comes of it is kept beside the source, or in the user's cache."""

from collections.abc import Callable
from typing import TypeVar, cast

from numba import njit

Function = TypeVar("Function", bound=Callable[..., object])


def compiled(function: Function) -> Function:
    """Compile a function of numbers and arrays when it is first called.

    Division by zero gives what numpy gives. Loops are left in the order in which they are written, so that a machine
    with other vector units comes to the same numbers to the last few digits.
    """
    return cast("Function", njit(cache=True, error_model="numpy")(function))
