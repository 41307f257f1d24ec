"""Exact unit conversions for where a person reads or writes, and the array type of all rooms. SI inside."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MPS_PER_MPH = 0.44704  # exact: international mile of 1609.344 m, hour of 3600 s
M_PER_FT = 0.3048  # exact, international foot
M_PER_IN = 0.0254  # exact, international inch
KG_PER_OZ = 0.028349523125  # exact, international avoirdupois ounce
