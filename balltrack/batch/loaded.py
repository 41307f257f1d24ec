"""All that measuring a clip needs, loaded: what a worker is a copy of has imported this file.

The one file whose import does work, once for all workers: numba makes ready what any compiled loop needs.
"""

import contextlib

import numpy as np

from balltrack.batch import side_by_side as side_by_side
from balltrack.camera.lens import rotations

with contextlib.suppress(Exception):  # whatever is wrong is said where a clip meets it
    rotations(np.zeros((1, 3)))
