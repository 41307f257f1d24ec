"""Sound clips, tiny, one of each container and kind of picture that phones and messengers write."""

import subprocess
from collections.abc import Mapping
from pathlib import Path

import imageio_ffmpeg  # type: ignore[import-untyped]

from damaged.breakage import Named

SIZE, FRAMES, FPS = "96x64", 12, 30
FLAT = ("-pix_fmt", "yuv420p")
# File name: how it is encoded.
KINDS: dict[str, tuple[str, ...]] = {
    "h264.mp4": ("-c:v", "libx264", *FLAT, "-c:a", "aac"),
    "fragments.mp4": ("-c:v", "libx264", *FLAT, "-c:a", "aac", "-movflags", "+frag_keyframe+empty_moov"),
    "stretched.mp4": (
        "-c:v", "libx264", *FLAT, "-an", "-movflags", "+use_metadata_tags", "-metadata", "com.android.capture.fps=240",
    ),
    "hevc10.mov": ("-c:v", "libx265", "-x265-params", "log-level=none", "-pix_fmt", "yuv420p10le", "-c:a", "pcm_s16le"),
    "av1.mp4": ("-c:v", "libaom-av1", "-cpu-used", "8", *FLAT, "-an"),
    "vp9.webm": ("-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8", *FLAT, "-c:a", "libopus"),
    "h264.mkv": ("-c:v", "libx264", *FLAT, "-c:a", "ac3"),
    "mpeg4.avi": ("-c:v", "mpeg4", *FLAT, "-c:a", "libmp3lame"),
    "mjpeg.avi": ("-c:v", "mjpeg", "-pix_fmt", "yuvj420p", "-c:a", "pcm_u8"),
    "h264.mts": ("-c:v", "libx264", *FLAT, "-c:a", "aac", "-f", "mpegts"),
    "h263.3gp": ("-c:v", "h263", "-s", "176x144", *FLAT, "-an"),
    "png.mkv": ("-c:v", "png", "-pix_fmt", "rgb24", "-an"),
}  # fmt: skip
# Whole clips that ask for more than they hold: here an hour of silence between 99 pieces of 4 ms.
LIARS: dict[str, tuple[str, ...]] = {
    "holes-in-sound.mkv": ("-c:v", "libx264", *FLAT, "-c:a", "pcm_s16le", "-af", "asetnsamples=64,asetpts=N*9e3/TB/SR"),
}


def sound_clips(folder: Path, kinds: Mapping[str, tuple[str, ...]] = KINDS) -> tuple[Named, ...]:
    """One clip of each kind; those in the folder already are taken as they are."""
    folder.mkdir(parents=True, exist_ok=True)
    return tuple(Named(name, _made(folder / name, how).read_bytes()) for name, how in kinds.items())


def _made(path: Path, how: tuple[str, ...]) -> Path:
    if not path.exists():
        picture = f"testsrc2=size={SIZE}:rate={FPS}"
        sound = "sine=frequency=440:sample_rate=16000" if "libopus" not in how else "sine=sample_rate=48000"
        source = ("-t", str(FRAMES / FPS), "-f", "lavfi", "-i")
        inputs = (*source, picture, *source, sound, "-bitexact")
        command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *inputs, *how, str(path)]
        subprocess.run(command, check=True)
    return path
