"""Frames and sound into a phone's video file."""

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from types import TracebackType

import av
import numpy as np
from av.video.reformatter import ColorRange, Colorspace

from .arrays import Bytes, Floats

SAMPLE_HZ = 48000
TICKS_HZ = 90000  # a common clock of phone video files


@dataclass(frozen=True, slots=True)
class Format:
    """How a clip is stored."""

    size_px: tuple[int, int]
    fps: float
    codec: str  # h264 | hevc | hevc10
    megabits: float
    stretched: bool = False  # stored at 30 frames/s, the capture rate in the metadata


def phone_megabits(size_px: tuple[int, int], fps: float, codec: str) -> float:
    """A phone's usual bit rate: 1080p30 12, 1080p60 20, 240 frames/s 45 Mb/s; HEVC 0.65 of it. Common practice."""
    base = {720: 8.0, 1080: 12.0, 2160: 42.0}[size_px[1]]
    return base * float((fps / 30.0) ** 0.65) * (1.0 if codec == "h264" else 0.65)


class Writer:
    """Writes pictures, each with its own time, and the sound; use as a context."""

    def __init__(self, path: Path, form: Format, sound: Floats | None) -> None:
        self.box = av.open(str(path), "w", options={"movflags": "+faststart+use_metadata_tags"})
        self.form = form
        self.stretch = form.fps / 30.0 if form.stretched else 1.0
        if form.stretched:
            self.box.metadata["com.android.capture.fps"] = f"{form.fps:.1f}"
        self.video = self._video_stream()
        self.audio = None
        if sound is not None:
            self.audio = self.box.add_stream("aac", rate=SAMPLE_HZ)
            assert isinstance(self.audio, av.AudioStream)
            self.audio.bit_rate = 128000
            self.audio.layout = "mono"
            self._add_sound(sound)

    def _video_stream(self) -> av.VideoStream:
        form = self.form
        name = "libx264" if form.codec == "h264" else "libx265"
        rate = Fraction(form.fps / self.stretch).limit_denominator(1001)
        stream = self.box.add_stream(name, rate=rate)
        assert isinstance(stream, av.VideoStream)
        stream.width, stream.height = form.size_px
        stream.pix_fmt = "yuv420p10le" if form.codec == "hevc10" else "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, TICKS_HZ)
        bits = form.megabits * 1e6 / self.stretch
        stream.bit_rate = int(bits)
        stream.gop_size = round(form.fps)
        stream.thread_count = 1
        stream.color_range = 1  # limited
        stream.colorspace = stream.color_primaries = stream.color_trc = 1  # BT.709
        stream.codec_context.max_b_frames = 0
        options: dict[str, object] = {"maxrate": str(int(1.5 * bits)), "bufsize": str(int(2 * bits))}
        if form.codec == "h264":
            options |= {"preset": "veryfast", "profile": "high"}
        else:
            fast = "log-level=error:pools=1:frame-threads=1:bframes=0"
            options |= {"preset": "ultrafast", "x265-params": fast}
            stream.codec_context.codec_tag = "hvc1"
        stream.options = options
        return stream

    def __enter__(self) -> "Writer":
        return self

    def add(self, picture: Bytes, time_s: float) -> None:
        """Append one yuv420p picture (3 h / 2, w), limited range, at a clip time."""
        frame = av.VideoFrame.from_ndarray(picture, "yuv420p")
        frame.colorspace, frame.color_range = Colorspace.ITU709, ColorRange.MPEG
        if self.video.pix_fmt != "yuv420p":
            frame = frame.reformat(format=self.video.pix_fmt)
        frame.pts = round(time_s * self.stretch * TICKS_HZ)
        frame.time_base = Fraction(1, TICKS_HZ)
        self.box.mux(self.video.encode(frame))

    def _add_sound(self, sound: Floats) -> None:
        assert self.audio is not None
        samples = np.clip(sound, -1, 1).astype(np.float32)
        for start in range(0, len(samples), 1024):
            part = np.ascontiguousarray(samples[None, start : start + 1024])
            frame = av.AudioFrame.from_ndarray(part, format="fltp", layout="mono")
            frame.sample_rate = SAMPLE_HZ
            frame.pts = start
            frame.time_base = Fraction(1, SAMPLE_HZ)
            self.box.mux(self.audio.encode(frame))

    def __exit__(self, kind: type[BaseException] | None, _: BaseException | None, __: TracebackType | None) -> None:
        if kind is None:
            self.box.mux(self.video.encode(None))
            if self.audio is not None:
                self.box.mux(self.audio.encode(None))
        self.box.close()
