"""A few pictures from all over a clip, without decoding it all."""

import numpy as np

from balltrack.video.clip import ClipInfo
from balltrack.video.frames import Frame, read_frames

AT_ONCE_S = 3.0  # a clip no longer than this is read through


def peeks(info: ClipInfo, count: int) -> list[Frame]:
    """At most ``count`` pictures, in order of time, spread over the clip.

    Raises VideoError if the clip cannot be read.
    """
    if info.duration_s <= AT_ONCE_S:
        return _spread(info, count)
    found: dict[float, Frame] = {}
    for share in (np.arange(count) + 0.5) / count:
        reader = read_frames(info.path, float(share * info.duration_s), None, info=info)
        frame = next(reader, None)
        reader.close()
        if frame is not None:
            found[frame.time_s] = frame
    return [found[time_s] for time_s in sorted(found)] or _spread(info, count)


def _spread(info: ClipInfo, count: int) -> list[Frame]:
    """Every n-th picture of the first seconds; n grows as they come, so that few are held."""
    kept: list[Frame] = []
    step = 1
    for frame in read_frames(info.path, None, None, info=info):
        if frame.index % step == 0:
            kept.append(frame)
        if len(kept) > 2 * count:
            kept, step = kept[::2], 2 * step
        if frame.time_s - kept[0].time_s > AT_ONCE_S:
            break
    return [kept[k] for k in np.unique(np.linspace(0, len(kept) - 1, count).astype(int))] if kept else []
