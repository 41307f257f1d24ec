"""A calibrated, fixed phone camera: pinhole with one radial distortion term, and rolling shutter."""

from dataclasses import dataclass

from balltrack.units import Floats

PARAMETERS = ("rx", "ry", "rz", "x_m", "y_m", "z_m", "focal_px", "k1", "cx_px", "cy_px", "readout_s")


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """A calibrated, fixed camera.

    ``parameters`` is the one truth, in the order of ``PARAMETERS``: rotation vector field -> camera (Rodrigues),
    lens centre in the field frame [m], focal length [px], Brown-Conrady k1 (x_d = x_u (1 + k1 r_u²)), principal
    point [px], sensor readout from top row to bottom row [s].
    """

    parameters: Floats  # (11,)
    covariance: Floats  # (11, 11) of ``parameters``
    size_px: tuple[int, int]  # width, height of the upright frame
