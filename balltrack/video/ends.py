"""When a film really begins and ends: some files claim hours that they do not hold."""

from fractions import Fraction

from balltrack.errors import VideoError
from balltrack.video.clip import ClipInfo
from balltrack.video.container import go_to, opened, packets, video_stream

FAR_S = 400_000.0  # beyond the end of any film of a phone, in file time


def ends_s(info: ClipInfo) -> tuple[float, float]:
    """Clip time of the first picture, and of just after the last. [s] Nothing is decoded.

    Raises
    ------
    VideoError
        If the film cannot be opened, or no picture in it has a time.
    """
    with opened(info.path) as container:
        stream = video_stream(container, info.path)
        base = stream.time_base or Fraction(1)
        go_to(container, stream, int(FAR_S / base))
        times = [each.pts for each in packets(container, stream) if each is not None and each.pts is not None]
        if not times:
            raise VideoError(f"{info.path.name}: its pictures carry no times; copy it from the phone again")
        last = max(times)
        first = min(stream.start_time or 0, last)
    step_s = 1 / (info.nominal_fps or 30.0)
    return float(first * base) * info.time_scale, float(last * base) * info.time_scale + step_s
