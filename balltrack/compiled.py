"""Inner loops compiled to machine code, once: what comes of it is kept beside the source, or in the user's cache."""

from collections.abc import Callable
from typing import TypeVar, cast

from numba import njit

Function = TypeVar("Function", bound=Callable[..., object])


def compiled(function: Function) -> Function:
    """Compile a function of numbers and arrays when it is first called.

    Division by zero gives what numpy gives. Sums may be taken in another order, several terms at once, as numpy and
    BLAS do: two kinds of processor differ in the last digits.
    """
    return cast("Function", njit(cache=True, error_model="numpy", fastmath={"reassoc", "contract"})(function))
