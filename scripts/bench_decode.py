"""How fast frames are read, against the ffmpeg program that decodes the same clip and throws the pictures away.

    python scripts/bench_decode.py [CLIP ...]      without a clip: a synthetic 1080p one, H.264 and HEVC 10-bit

One thread each, in turns, best of three: the ratio counts, not the rate of this machine.
"""

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import imageio_ffmpeg  # type: ignore[import-untyped]

from balltrack.video.clip import probe
from balltrack.video.frames import read_frames

REPEATS = 3
SOURCE = ("-f", "lavfi", "-i", "testsrc2=s=1920x1080:r=60:d=5,noise=alls=6:allf=t,format=yuv420p")


def ffmpeg(*args: str) -> None:
    """Run the ffmpeg program in silence."""
    subprocess.run([imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *args], check=True)


def synthetic(folder: Path) -> list[Path]:
    """An H.264 clip, the same one turned, and one of HEVC with 10 bits, at about a phone's bit rate."""
    plain, turned, deep = (folder / name for name in ("h264.mp4", "h264_turned.mp4", "hevc_10bit.mp4"))
    ffmpeg(*SOURCE, "-c:v", "libx264", "-preset", "veryfast", "-b:v", "20M", str(plain))
    ffmpeg("-display_rotation", "90", "-i", str(plain), "-c", "copy", str(turned))
    hevc = ("-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=none", "-pix_fmt", "yuv420p10le")
    ffmpeg(*SOURCE, *hevc, "-b:v", "14M", str(deep))
    return [plain, turned, deep]


def wall_s(work: Callable[[], object]) -> float:
    """Wall time of one go."""
    start_s = time.perf_counter()
    work()
    return time.perf_counter() - start_s


def compare(path: Path) -> str:
    """One line: rates of both and their ratio."""
    bare_s, ours_s, count = [], [], 0
    for _ in range(REPEATS):
        bare = ("-threads", "1", "-noautorotate", "-i", str(path), "-map", "0:v:0", "-f", "null", "-")
        bare_s.append(wall_s(lambda bare=bare: ffmpeg(*bare)))  # type: ignore[misc]
        start_s = time.perf_counter()
        count = sum(1 for _ in read_frames(path))
        ours_s.append(time.perf_counter() - start_s)
    probe_s = wall_s(lambda: probe(path))
    ratio = min(ours_s) / min(bare_s)
    return (
        f"{path.name:18} {count} frames: bare {count / min(bare_s):6.1f}/s, read_frames {count / min(ours_s):6.1f}/s, "
        f"time ratio {ratio:.2f}, probe {1000 * probe_s:.0f} ms"
    )


def main() -> None:
    """Measure the clips named, or synthetic ones."""
    with tempfile.TemporaryDirectory() as folder:
        for path in [Path(name) for name in sys.argv[1:]] or synthetic(Path(folder)):
            print(compare(path), flush=True)


if __name__ == "__main__":
    main()
