"""Non-linear least squares for residuals that can be had for a whole batch of parameter vectors at once."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from balltrack.units import Floats

# Central differences: the error of a step h is h²/6 of the third derivative against eps/h of rounding, least near
# the cube root of eps, 6e-6 of a parameter's scale.
STEP = 6e-6
TOLERANCE = 1e-12
# Stands in for a residual that has no value (a point behind the lens), so that the step into it is refused.
NO_VALUE = 1e6

BatchResiduals = Callable[[Floats], Floats]
"""(b, p) parameter vectors -> (b, m) residuals, each divided by its standard deviation."""


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Where the search stopped."""

    parameters: Floats  # (p,)
    residuals: Floats  # (m,)
    converged: bool


def minimise(residuals: BatchResiduals, start: Floats, scale: Floats, evaluations: int) -> Solution:
    """Find the parameters with the least sum of squared residuals (Levenberg-Marquardt, MINPACK).

    Parameters
    ----------
    residuals : function
        (b, p) -> (b, m), m >= p.
    start, scale : (p,) arrays
        Where to begin, and the size of a change that matters in each parameter (all positive).
    evaluations : int
        Give up, not converged, after so many calls.
    """
    from scipy.optimize import least_squares  # slow to import: only where a flight is fitted

    def scaled(x: Floats) -> Floats:
        values = residuals((x * scale)[None])[0]
        return np.where(np.isfinite(values), values, NO_VALUE)

    def scaled_jacobian(x: Floats) -> Floats:
        return jacobian(residuals, x * scale, scale) * scale

    found = least_squares(
        scaled,
        start / scale,
        jac=scaled_jacobian,
        method="lm",
        x_scale=1.0,  # `scale` has done it; scaling by the Jacobian strands some of the NIST sets
        xtol=TOLERANCE,
        ftol=TOLERANCE,
        gtol=TOLERANCE,
        max_nfev=evaluations,
    )
    return Solution(found.x * scale, np.asarray(found.fun), bool(found.status > 0))


def jacobian(residuals: BatchResiduals, parameters: Floats, scale: Floats) -> Floats:
    """d residuals / d parameters by central differences, all perturbed vectors in one batch. [(m, p)]

    Zero where a residual has no value.
    """
    steps = np.diag(STEP * scale)
    either = residuals(np.concatenate([parameters + steps, parameters - steps]))
    slopes = (either[: len(scale)] - either[len(scale) :]) / (2 * STEP * scale[:, None])
    return np.where(np.isfinite(slopes), slopes, 0.0).T
