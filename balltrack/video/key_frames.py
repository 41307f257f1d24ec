"""The pictures of a clip that are stored whole: they cost one decoded picture each, not all those between them."""

from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING

from balltrack.video.clip import ClipInfo
from balltrack.video.container import decode, opened, packets, video_stream
from balltrack.video.frames import Frame, frame_of

if TYPE_CHECKING:
    from av.packet import Packet
    from av.video.stream import VideoStream

    Packets = Iterator[Packet[VideoStream] | None]


def key_frames(info: ClipInfo, stop_s: float) -> list[Frame]:
    """Pictures that are stored whole and shown before ``stop_s``, in order of time. [clip time, s]

    Phones write one a second; a film that was made smaller may have a single one.

    Raises
    ------
    VideoError
        If the clip cannot be opened, or its picture changes size.
    """
    found: dict[float, Frame] = {}
    with opened(info.path) as container:
        stream = video_stream(container, info.path)
        stream.thread_count = 1
        stream.codec_context.skip_frame = "NONKEY"
        base = stream.time_base or Fraction(1)
        for packet in _before(packets(container, stream), stop_s / info.time_scale):
            for picture in decode(stream, packet)[0]:
                if picture.pts is not None:
                    time_s = float(picture.pts * base) * info.time_scale
                    found[time_s] = frame_of(len(found), time_s, picture, info)
    return [found[time_s] for time_s in sorted(found)]


def _before(read: "Packets", stop_file_s: float) -> "Packets":
    """The packets of key frames up to a time, and the end that has the decoder give out what it holds back."""
    for packet in read:
        if packet is not None and packet.is_keyframe:
            if packet.pts is not None and float(packet.pts * packet.time_base) >= stop_file_s:
                break
            yield packet
    yield None
