"""What a clip is, before its frames are read: size, rotation, rate, slow motion, damage."""

from dataclasses import dataclass, field
from fractions import Fraction
from itertools import islice
from pathlib import Path

import numpy as np
from av.container import InputContainer
from av.video.frame import VideoFrame
from av.video.stream import VideoStream

from balltrack.errors import VideoError
from balltrack.units import Floats
from balltrack.video.colour import ColourTags
from balltrack.video.container import MOST_PIXELS, decode, moving_pictures, opened, packets, sound_stream, video_stream
from balltrack.video.orientation import Orientation, orientation_of
from balltrack.video.rate import pace, stored_fps, varies

PRESSED = "strongly compressed"
# Bits for a pixel of each picture below which a small fast ball is smeared, by codec; phones write 0.1 and more, and
# newer codecs need half (common practice, no source). Pictures of a fast film are more alike.
_FEWEST_BITS = {"h264": 0.05, "mpeg4": 0.1, "h263": 0.1, "mpeg2video": 0.1, "msmpeg4": 0.1}
_FEWEST_BITS_NEW = 0.025  # HEVC, VP9, AV1 and what comes after
_SMALLEST_JUDGED = (320, 240)
FULL_RANGE = 2  # AVCOL_RANGE_JPEG in libavutil/pixfmt.h: luma 0..255 instead of 16..235
# AV_FIELD_BB and AV_FIELD_BT in libavcodec/defs.h; the latter as files are written in fact: 9 and 14 in QuickTime's
# `fiel` are read as top first and bottom first.
_BOTTOM_FIRST = (3, 5)
_SAMPLE_PACKETS = 3000  # 50 s at 60 frames/s: enough to see whether the rate changes, without reading an hour


@dataclass(frozen=True, slots=True)
class ClipInfo:
    """A clip as stored, and how its stored seconds relate to real ones.

    Clip time is ``pts * time_base * time_scale``: the file's own clock, which picture and sound share. The first
    frame need not be at 0.
    """

    path: Path
    size_px: tuple[int, int]  # width, height, upright
    stored_size_px: tuple[int, int]  # width, height before rotation
    rotation_deg: int  # clockwise turn applied to bring the picture upright
    mirrored: bool  # whether it is mirrored left to right before that turn
    codec: str
    bit_depth: int  # of the file; frames are always delivered with 8
    full_range: bool  # delivered luma runs 0..255; else black is 16 and white 235
    nominal_fps: float  # frames per real second, by the median interval; 0 where the file does not tell
    duration_s: float  # real seconds; 0 where the file does not tell
    frame_count_hint: int  # what the file claims; 0 where it does not
    time_scale: float  # real seconds per second of the file; below 1 for slow motion stored stretched
    sound_time_scale: float  # the same for the sound, which some phones leave at real speed
    has_sound: bool
    warnings: tuple[str, ...]
    orientation: Orientation = field(default=Orientation(), repr=False)
    colours: ColourTags = ColourTags()  # noqa: RUF009  # frozen; as stored: frames of high range come as BT.709
    bottom_first: bool = False  # of an interlaced picture, which comes as its first field: that of the lower lines
    container: str = ""  # how pictures and sound are packed, in ffmpeg's word
    picture_bytes: float = 0.0  # of the file, for one picture, in the mean; 0 where the file does not tell
    scale_told_by: str = ""  # who says what ``time_scale`` is; empty where it is 1 for want of another word
    variable_rate: bool = False  # the frame interval varies
    first_s: float = 0.0  # clip time of the first picture

    @property
    def bits_per_pixel(self) -> float:
        """Of each picture, as stored: how much compression left. 0 where the file does not tell."""
        return 8 * self.picture_bytes / (self.stored_size_px[0] * self.stored_size_px[1])


def probe(path: Path, capture_fps: float | None = None) -> ClipInfo:
    """Look at a clip: its tags, its index and its first picture.

    ``capture_fps``, frames per real second, is what a person says of a slow-motion clip; it goes before its tags.

    Raises
    ------
    VideoError
        No such file, empty, not a video, no video stream, or not one picture that decodes.
    """
    with opened(path) as container:
        stream = video_stream(container, path)
        frame, damaged, stored = _first_frame(container, stream, path)
        stored += _ahead(container, stream)
        times_s = _times_s(stored, stream)
        picture_bytes = float(np.mean([packet.size for packet in stored]))
        rate_fps = stored_fps(stream, times_s)
        told = pace(container, rate_fps, times_s, capture_fps)
        scale = told.time_scale
        stored_px = (frame.width, frame.height)
        colours = ColourTags(int(frame.color_primaries), int(frame.color_trc), int(frame.colorspace))
        orientation = orientation_of(frame, stream.metadata.get("title", ""))
        warnings = (
            *told.warnings,
            *_damage_warnings(path, stream, damaged),
            *_picture_warnings(stream, frame),
            *_choice_warnings(container, frame),
            *_compression_warnings(stream, frame, picture_bytes, rate_fps / scale),
        )
        return ClipInfo(
            path=path,
            size_px=orientation.size_px(stored_px),
            stored_size_px=stored_px,
            rotation_deg=orientation.rotation_deg,
            mirrored=orientation.mirrored,
            codec=stream.codec_context.name,
            bit_depth=frame.format.components[0].bits,
            full_range=is_full_range(frame) and not colours.high_range,
            nominal_fps=rate_fps / scale,
            duration_s=_duration_s(container, stream, times_s) * scale,
            frame_count_hint=stream.frames,
            time_scale=scale,
            sound_time_scale=_sound_scale(container, stream, scale),
            has_sound=sound_stream(container) is not None,
            warnings=warnings,
            orientation=orientation,
            colours=colours,
            bottom_first=stream.codec_context.field_order in _BOTTOM_FIRST,
            container=container.format.name.split(",")[0],
            picture_bytes=picture_bytes,
            scale_told_by=told.told_by,
            variable_rate=varies(times_s),
            first_s=(frame.time or 0.0) * scale,
        )


def is_full_range(frame: VideoFrame) -> bool:
    """Whether the luma that is delivered for this frame runs 0..255. RGB and gray are converted to 16..235."""
    return frame.format.name.startswith("yuv") and (
        frame.color_range == FULL_RANGE or frame.format.name.startswith("yuvj")
    )


@dataclass(frozen=True, slots=True)
class _Stored:
    """One picture as it lies in the file."""

    pts: int | None
    size: int  # bytes


def _first_frame(container: InputContainer, stream: VideoStream, path: Path) -> tuple[VideoFrame, int, list[_Stored]]:
    """The first picture, how many before it do not decode, and what was read for it."""
    damaged = 0
    stored: list[_Stored] = []
    for packet in packets(container, stream):
        stored += [_Stored(packet.pts, packet.size)] if packet else []
        frames, bad = decode(stream, packet)
        damaged += bad
        if frames:
            return frames[0], damaged, stored
    if damaged:
        raise VideoError(
            f"{path.name}: none of its {damaged} pictures decodes; copy it from the phone again, or, if they have more "
            f"than {MOST_PIXELS / 1e6:.0f} million pixels, film in 4K at most"
        )
    raise VideoError(f"{path.name}: holds no picture; film it again or leave it out")


def _ahead(container: InputContainer, stream: VideoStream) -> list[_Stored]:
    """The next pictures, read on from where the container stands; none is decoded."""
    following = islice(packets(container, stream), _SAMPLE_PACKETS)
    return [_Stored(packet.pts, packet.size) for packet in following if packet]


def _times_s(stored: list[_Stored], stream: VideoStream) -> Floats:
    """When pictures are shown, in order, in seconds of the file.

    An index is no substitute: it holds decoding times, which some phones write as irregularly as they please.
    """
    base = stream.time_base or Fraction(1)
    return np.sort(np.array([float(each.pts * base) for each in stored if each.pts is not None]))


def _sound_scale(container: InputContainer, stream: VideoStream, scale: float) -> float:
    """The sound of a stretched file is stretched too, or left at real speed: its length tells."""
    sound = sound_stream(container)
    if scale == 1.0 or sound is None or not sound.duration or not stream.duration:
        return scale
    sound_s = float(sound.duration * (sound.time_base or 0))
    picture_s = float(stream.duration * (stream.time_base or 0))
    if sound_s <= 0 or picture_s <= 0:
        return scale
    at_real_speed = abs(np.log(sound_s / (picture_s * scale))) < abs(np.log(sound_s / picture_s))
    return 1.0 if at_real_speed else scale


def _duration_s(container: InputContainer, stream: VideoStream, times_s: Floats) -> float:
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    if container.duration:
        return container.duration / 1e6  # libavformat counts a container's length in microseconds
    return float(times_s[-1] - times_s[0]) if len(times_s) else 0.0


def _damage_warnings(path: Path, stream: VideoStream, damaged: int) -> tuple[str, ...]:
    warnings: list[str] = []
    if damaged:
        warnings.append(f"the first {damaged} pictures do not decode")
    size_bytes = path.stat().st_size
    lost = sum(entry.pos + entry.size > size_bytes for entry in stream.index_entries)
    if lost:
        warnings.append(f"cut short: the last {lost} of {len(stream.index_entries)} pictures are missing")
    return tuple(warnings)


def _compression_warnings(
    stream: VideoStream, frame: VideoFrame, picture_bytes: float, fps: float
) -> tuple[str, ...]:
    bits = 8 * picture_bytes / (frame.width * frame.height)
    fewest = _FEWEST_BITS.get(stream.codec_context.name, _FEWEST_BITS_NEW) * min(1.0, (60 / max(fps, 1.0)) ** 0.5)
    if not 0 < bits < fewest or frame.width * frame.height < _SMALLEST_JUDGED[0] * _SMALLEST_JUDGED[1]:
        return ()
    return (f"{PRESSED}, {bits:.3f} bits for a pixel, as messengers do: small fast balls are smeared",)


def _choice_warnings(container: InputContainer, frame: VideoFrame) -> tuple[str, ...]:
    count = len(moving_pictures(container))
    used = f"{frame.width} x {frame.height} is used"
    return (f"the file holds {count} films side by side: the largest, {used}",) if count > 1 else ()


def _picture_warnings(stream: VideoStream, frame: VideoFrame) -> tuple[str, ...]:
    warnings: list[str] = []
    aspect = stream.sample_aspect_ratio
    if aspect is not None and aspect > 0 and abs(float(aspect) - 1) > 0.001:
        warnings.append(f"pixels are not square ({aspect.numerator}:{aspect.denominator}): directions will be wrong")
    if frame.interlaced_frame:
        words = "interlaced: every second line is of another instant; those of one instant are used, half of them"
        warnings.append(f"{words}; film progressive")
    return tuple(warnings)
