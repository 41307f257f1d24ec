"""When each picture of a clip was taken, without looking at the pictures."""

from fractions import Fraction

import numpy as np

from balltrack.units import Floats
from balltrack.video.clip import ClipInfo
from balltrack.video.container import opened, packets, video_stream


def frame_times_s(info: ClipInfo) -> Floats:
    """(n,) clip times of all pictures, each once, in order. [s] Nothing is decoded.

    A picture that does not decode has a time too; one that an edit list hides has none.

    Raises
    ------
    VideoError
        If the clip cannot be opened.
    """
    with opened(info.path) as container:
        stream = video_stream(container, info.path)
        base = stream.time_base or Fraction(1)
        # What an edit list hides is in the file for the decoder's sake, and is not shown.
        shown = [packet for packet in packets(container, stream) if packet is not None and not packet.is_discard]
        stamps = [packet.pts for packet in shown if packet.pts is not None]
    return np.unique(np.array([float(stamp * base) * info.time_scale for stamp in stamps], dtype=np.float64))
