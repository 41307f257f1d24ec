"""A few frames through a phone's codec and back: what compression leaves of a small fast ball."""

import io
from fractions import Fraction

import av
import numpy as np

from detector.stills import Bytes

CODECS = {"libx264": "yuv420p", "libx265": "yuv420p"}


def compressed(frames: Bytes, codec: str, quality: int, preset: str) -> Bytes:
    """Encode and decode luma (n, h, w) of even sides; ``quality`` is the encoder's constant rate factor."""
    count, height, width = frames.shape
    file = io.BytesIO()
    with av.open(file, "w", format="mp4") as box:
        stream = box.add_stream(codec, rate=30)
        assert isinstance(stream, av.VideoStream)
        stream.width, stream.height, stream.pix_fmt = width, height, CODECS[codec]
        quiet = {"x265-params": "log-level=none:pools=none:frame-threads=1"} if codec == "libx265" else {"threads": "1"}
        stream.options = {"crf": str(quality), "preset": preset, "bf": "2", **quiet}
        colour = np.full((height // 2, width), 128, np.uint8)
        for k in range(count):
            frame = av.VideoFrame.from_ndarray(np.concatenate([frames[k], colour]), "yuv420p")
            frame.pts, frame.time_base = k, Fraction(1, 30)
            box.mux(stream.encode(frame))
        box.mux(stream.encode(None))
    file.seek(0)
    with av.open(file, "r") as made:
        made.streams.video[0].thread_count = 1
        decoded = [frame.to_ndarray(format="yuv420p")[:height] for frame in made.decode(video=0)]
    return np.stack(decoded)
