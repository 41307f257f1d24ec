"""What a clip is, before its frames are read: size, rotation, rate, slow motion, damage."""

from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import numpy as np
from av.container import InputContainer
from av.video.frame import VideoFrame
from av.video.stream import VideoStream

from balltrack.errors import VideoError
from balltrack.units import Floats
from balltrack.video.colour import ColourTags
from balltrack.video.container import decode, moving_pictures, opened, packets, sound_stream, video_stream
from balltrack.video.orientation import Orientation, orientation_of
from balltrack.video.rate import pace, stored_fps, varies

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
        frame, damaged = _first_frame(container, stream, path)
        times_s, picture_bytes = _packets_ahead(container, stream)
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
        )


def is_full_range(frame: VideoFrame) -> bool:
    """Whether the luma that is delivered for this frame runs 0..255. RGB and gray are converted to 16..235."""
    return frame.format.name.startswith("yuv") and (
        frame.color_range == FULL_RANGE or frame.format.name.startswith("yuvj")
    )


def _first_frame(container: InputContainer, stream: VideoStream, path: Path) -> tuple[VideoFrame, int]:
    damaged = 0
    for packet in packets(container, stream):
        frames, bad = decode(stream, packet)
        damaged += bad
        if frames:
            return frames[0], damaged
    if damaged:
        raise VideoError(f"{path.name}: none of its {damaged} pictures decodes; copy it from the phone again")
    raise VideoError(f"{path.name}: holds no picture; film it again or leave it out")


def _packets_ahead(container: InputContainer, stream: VideoStream) -> tuple[Floats, float]:
    """Times and mean size in bytes of the next pictures, read on from where the container stands; none is decoded.

    An index is no substitute: it holds decoding times, which some phones write as irregularly as they please.
    """
    base = stream.time_base or Fraction(1)
    times: list[float] = []
    sizes: list[int] = []
    for packet in packets(container, stream):
        if packet is None or len(times) == _SAMPLE_PACKETS:
            break
        sizes.append(packet.size)
        if packet.pts is not None:
            times.append(float(packet.pts * base))
    return np.sort(np.array(times)), float(np.mean(sizes)) if sizes else 0.0


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
