"""Writing a clip that plays on any phone: H.264, 8 bits, index first, sound slowed where the picture is."""

import contextlib
import tempfile
import wave
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from balltrack.errors import VideoError
from balltrack.video.colour import ColourTags
from balltrack.video.orientation import Bytes
from balltrack.video.sound import Sound

Planes = tuple[Bytes, Bytes, Bytes]  # luma (h, w) and two colour differences (h / 2, w / 2), limited range

SOUND_HZ = 48000
# Quality: 18 is said to look like the source, 28 poor; "veryfast" costs a third of the usual time for a tenth more
# bytes (common practice, no source).
QUALITY, PRESET = 22, "veryfast"


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a clip that is shown at one speed."""

    start_s: float  # clip time
    stop_s: float
    speed: float = 1.0  # 0.25: four times as long

    @property
    def shown_s(self) -> float:
        """How long it takes to show."""
        return (self.stop_s - self.start_s) / self.speed


def write_clip(
    path: Path,
    pictures: Iterable[Planes],
    fps: Fraction,
    tags: ColourTags = ColourTags(),  # noqa: B008  # frozen
    sound: "SlowedSound | None" = None,
) -> None:
    """Encode pictures of one even size, with sound if there is any. The file appears whole or not at all.

    Raises
    ------
    VideoError
        If there is no picture, or the file cannot be written.
    """
    rest = iter(pictures)
    first = next(rest, None)
    if first is None:
        raise VideoError(f"{path.name}: there is no picture to write")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        # The whole path: ffmpeg would take -a/b.mp4 for an option and a:b.mp4 for an address.
        with tempfile.TemporaryDirectory(prefix=".clip-", dir=path.parent.absolute()) as folder:
            made = Path(folder) / "clip.mp4"
            audio = _audio(_write_wav(Path(folder) / "sound.wav", sound), sound) if sound else None
            _run(_graph(made, _video(first, fps, tags), audio), first, rest)
            made.replace(path)
    except OSError as error:
        raise VideoError(f"{path} cannot be written: {error.strerror or error}; free or unlock the folder") from None


@dataclass(frozen=True, slots=True, eq=False)
class SlowedSound:
    """The sound that goes with stretches of a clip."""

    sound: Sound
    stretches: tuple[Stretch, ...]  # one after the other, without gaps


def _video(first: Planes, fps: Fraction, tags: ColourTags) -> Any:
    import ffmpeg  # type: ignore[import-untyped]  # here, so that reading a clip does not wait for it

    height, width = first[0].shape
    raw = ffmpeg.input("pipe:", format="rawvideo", pix_fmt="yuv420p", s=f"{width}x{height}", framerate=str(fps))
    stated = {"color_primaries": tags.primaries, "color_trc": tags.transfer, "colorspace": tags.matrix}
    return raw.filter("setparams", range="tv", **stated)


def _audio(wav: Path, slowed: SlowedSound) -> Any:
    """Each stretch's sound as a tape would play it at that speed: slower and deeper.

    Keeping the pitch (`atempo`) repeats what is short: at a quarter of the speed one crack became 5 to 12 clicks over
    0.1 s, the first up to 0.15 s before the picture that shows it. Slowed as a tape it stays one, and on its picture.
    """
    import ffmpeg

    start_s, rate_hz = slowed.stretches[0].start_s, round(slowed.sound.rate_hz)
    split = ffmpeg.input(str(wav)).audio.filter_multi_output("asplit", len(slowed.stretches))
    parts = []
    for which, stretch in enumerate(slowed.stretches):
        part = split.stream(which).filter("atrim", start=stretch.start_s - start_s, end=stretch.stop_s - start_s)
        part = part.filter("asetpts", "PTS-STARTPTS").filter("asetrate", round(rate_hz * stretch.speed))
        # Each part is made exactly as long as its pictures.
        parts.append(part.filter("aresample", SOUND_HZ).filter("apad").filter("atrim", duration=stretch.shown_s))
    return ffmpeg.concat(*parts, v=0, a=1)


def _graph(path: Path, video: Any, audio: Any) -> Any:
    import ffmpeg

    options = {"vcodec": "libx264", "preset": PRESET, "crf": QUALITY, "pix_fmt": "yuv420p", "profile:v": "high"}
    # A key frame at least each 30 pictures: whoever drags a finger along the clip sees it follow.
    options |= {"g": 30, "movflags": "+faststart", "map_metadata": -1, "loglevel": "error"}
    if audio is None:
        return ffmpeg.output(video, str(path), **options)
    return ffmpeg.output(video, audio, str(path), acodec="aac", ar=SOUND_HZ, audio_bitrate="96k", **options)


def _run(graph: Any, first: Planes, rest: Iterator[Planes]) -> None:
    """Feed the pictures to ffmpeg. What it complains of goes to a file: a full pipe would stop it."""
    import subprocess

    import ffmpeg
    import imageio_ffmpeg  # type: ignore[import-untyped]

    command = ffmpeg.compile(graph, cmd=imageio_ffmpeg.get_ffmpeg_exe(), overwrite_output=True)
    with tempfile.TemporaryFile() as complaints:
        encoder = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=complaints)
        assert encoder.stdin is not None  # a pipe was asked for
        try:
            with contextlib.suppress(BrokenPipeError):  # it ended early, and says why below
                for planes in _all(first, rest):
                    for plane in planes:
                        encoder.stdin.write(np.ascontiguousarray(plane).data)
        except BaseException:
            encoder.kill()
            raise
        finally:
            with contextlib.suppress(BrokenPipeError):
                encoder.stdin.close()
            status = encoder.wait()
        complaints.seek(0)
        words = complaints.read().decode(errors="replace").strip().splitlines()
    if status:
        raise VideoError(f"the clip cannot be written: ffmpeg says: {words[-1] if words else f'status {status}'}")


def _all(first: Planes, rest: Iterator[Planes]) -> Iterator[Planes]:
    yield first
    for planes in rest:
        if planes[0].shape != first[0].shape:
            raise VideoError(f"pictures of {first[0].shape} and {planes[0].shape} cannot make one clip")
        yield planes


def _write_wav(path: Path, slowed: SlowedSound) -> Path:
    """The stretches' sound as a 16-bit file; silence where the clip has none."""
    sound, start_s, stop_s = slowed.sound, slowed.stretches[0].start_s, slowed.stretches[-1].stop_s
    rate_hz = round(sound.rate_hz)
    count = round((stop_s - start_s) * rate_hz)
    begin = round((start_s - sound.start_s) * sound.rate_hz)
    heard = sound.samples[max(begin, 0) : max(begin + count, 0)]
    samples = np.zeros(count, np.float32)
    place = max(-begin, 0)
    samples[place : place + len(heard)] = heard[: max(count - place, 0)]
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return path
