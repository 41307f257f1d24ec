"""Array types, and the exact unit conversions that the renderer uses."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Image = NDArray[np.float32]
Bytes = NDArray[np.uint8]

IN = 0.0254  # metres, exact
FT = 0.3048  # metres, exact
MPH = 0.44704  # m/s, exact
OZ = 0.028349523125  # kg, exact
RPM = 2.0 * np.pi / 60.0  # rad/s
