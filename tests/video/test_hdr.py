"""High dynamic range: paper white, greys and colours as another program stored them, and curves that fit tables."""

from pathlib import Path

import numpy as np
import pytest

from balltrack.video.clip import probe
from balltrack.video.colour import HLG, PQ, STANDARD, bgr_of, colour_tags
from balltrack.video.frames import read_frames
from balltrack.video.hdr import KNEE, light_of, signal_of
from tests.video.encode import ffmpeg

# Patches beside each other: grey, light grey, paper white, brick, grass, optic yellow, sky. Red, green, blue.
PATCHES = np.array(
    [(64,) * 3, (128,) * 3, (200,) * 3, (255,) * 3, (176, 64, 64), (60, 140, 60), (216, 232, 48), (48, 80, 192)]
)
SIDE = 16


def _film(path: Path, transfer: str) -> Path:
    """The patches as HEVC of 10 bits, turned by zscale: another party's colour arithmetic. Paper at 203 cd/m²."""
    rows = np.repeat(np.repeat(PATCHES[None, :, :], SIDE, axis=1), SIDE, axis=0).astype(np.uint8)
    raw = ("-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{SIDE * len(PATCHES)}x{SIDE}", "-r", "30", "-i", "-")
    linear = "zscale=matrixin=gbr:transferin=bt709:primariesin=bt709:rangein=full:matrix=gbr:transfer=linear"
    wide = f"zscale=primaries=bt2020:transfer={transfer}:matrix=2020_ncl:range=limited:npl=203,format=yuv420p10le"
    chain = f"format=gbrp,{linear}:primaries=bt709:range=full:npl=203,format=gbrpf32le,{wide}"
    coder = ("-c:v", "libx265", "-x265-params", "lossless=1:log-level=none")
    ffmpeg(*raw, "-vf", chain, *coder, path, stdin=rows.tobytes() * 2)
    return path


@pytest.mark.parametrize(("transfer", "number"), [("arib-std-b67", HLG), ("smpte2084", PQ)])
def test_the_light_of_a_high_range_film_is_undone(tmp_path: Path, transfer: str, number: int) -> None:
    path = _film(tmp_path / "hdr.mp4", transfer)
    info = probe(path)
    assert (info.bit_depth, info.colours.transfer, info.full_range) == (10, number, False)
    assert colour_tags(path) == STANDARD  # what the delivered numbers mean
    (frame, *_) = read_frames(path)
    shown = bgr_of((frame.luma, frame.cb, frame.cr), colour_tags(path))[SIDE // 2, SIDE // 2 :: SIDE, ::-1]
    signal = PATCHES / 255
    wanted = 255 * np.where(signal <= KNEE, signal, KNEE + (1 - KNEE) * (1 - np.exp((KNEE - signal) / (1 - KNEE))))
    # Greys: 9 levels, by which two uses of HLG, light of the scene and of a screen, differ in the dark; colours: 15,
    # for luma is taken as that of a grey, and each level of luma and colour was rounded twice.
    apart = np.abs(shown - wanted)
    assert apart[:4].max() <= 9
    assert apart[4:].max() <= 15
    # Usable to find a ball by: paper stands off mid grey by more than the flat stored codes do (BT.2408: 75 % of HLG).
    assert int(frame.luma[8, 3 * SIDE + 8]) - int(frame.luma[8, SIDE + 8]) > 80


def test_published_levels_of_both_curves() -> None:
    # Rep. ITU-R BT.2408 table 1: paper white is 58 % of PQ (203 cd/m²) and 75 % of HLG. 1000 cd/m² is 75.2 % of PQ
    # (the same; numbers from memory); HLG's 100 % is 12 times its 50 % (BT.2100: 1 and 1/12 of the scene's light).
    assert light_of(np.array([0.581, 0.752]), PQ) == pytest.approx([1.0, 1000 / 203], rel=0.01)
    light = light_of(np.array([0.5, 0.75, 1.0]), HLG)
    assert light[1] == pytest.approx(1.0)
    assert light[2] / light[0] == pytest.approx(12.0, rel=1e-4)


@pytest.mark.parametrize("transfer", [HLG, PQ])
def test_brighter_light_never_comes_out_darker_nor_clipped(transfer: int) -> None:
    signal = signal_of(light_of(np.linspace(0, 1, 1024), transfer), transfer)
    assert np.all(np.diff(signal) >= 0)
    assert 0 <= signal[0] < signal[-1] <= 1
    paper, bright = signal_of(np.array([1.0, 1.6]), transfer)
    assert bright - paper > 0.01  # a ball in the sun keeps shade: 2 levels of 219
