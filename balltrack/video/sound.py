"""The sound of a clip as samples on the clip's own clock."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

import numpy as np
from av.audio.frame import AudioFrame
from av.audio.stream import AudioStream
from av.container import InputContainer
from numpy.typing import NDArray

from balltrack.video.clip import ClipInfo, probe
from balltrack.video.container import DECODER_ERRORS, opened, packets

Samples = NDArray[np.float32]

# Stored value of silence and of full scale, by sample type.
_SCALES = {
    "uint8": (128.0, 128.0),
    "int16": (0.0, 2.0**15),
    "int32": (0.0, 2.0**31),
    "int64": (0.0, 2.0**63),
    "float32": (0.0, 1.0),
    "float64": (0.0, 1.0),
}
_JITTER_S = 0.002  # containers round a piece's time to 1 ms or so; a smaller step is no hole
_LONGEST_GAP_S = 60.0  # a longer hole between two pieces of sound is a broken timestamp, not silence


@dataclass(frozen=True, slots=True, eq=False)
class Sound:
    """Mono sound. Sample i was heard at ``start_s + i / rate_hz`` in clip time, real seconds."""

    samples: Samples  # (n,) full scale is -1..1
    rate_hz: float  # samples per real second: above the file's own where slow motion stretched the sound
    start_s: float


def read_sound(path: Path, info: ClipInfo | None = None) -> Sound | None:
    """Decode the sound alone, mixed to mono, with holes between its pieces filled with silence.

    Returns None where the clip has no sound or none that decodes.

    Raises
    ------
    VideoError
        Where the clip cannot be opened or has no picture.
    """
    info = info or probe(path)
    if not info.has_sound:
        return None
    with opened(info.path) as container:
        frames = _decoded(container, container.streams.audio[0])
        first = next(frames, None)
        if first is None:
            return None
        rate_hz = first.sample_rate
        start_s = first.time or 0.0
        samples = _joined(chain([first], frames), start_s, rate_hz)
    scale = info.sound_time_scale
    return Sound(samples, rate_hz / scale, start_s * scale)


def _decoded(container: InputContainer, stream: AudioStream) -> Iterator[AudioFrame]:
    for packet in packets(container, stream):
        try:
            yield from stream.decode(packet)
        except (EOFError, *DECODER_ERRORS):
            continue  # a damaged packet leaves a hole, which its neighbours' times show


def _joined(frames: Iterable[AudioFrame], start_s: float, rate_hz: int) -> Samples:
    """One run of samples. Holes become silence, overlaps are cut, so that every sample keeps its time."""
    pieces: list[Samples] = []
    end = 0  # samples so far
    tolerance = _JITTER_S * rate_hz
    for frame in frames:
        if frame.sample_rate != rate_hz:
            continue
        mono = _mono(frame)
        place = end if frame.time is None else round((frame.time - start_s) * rate_hz)
        if place > end + _LONGEST_GAP_S * rate_hz or abs(place - end) <= tolerance:
            place = end
        if place < end:
            mono = mono[end - place :]
        elif place > end:
            pieces.append(np.zeros(place - end, dtype=np.float32))
        pieces.append(mono)
        end = max(place, end) + len(mono)
    return np.concatenate(pieces)


def _mono(frame: AudioFrame) -> Samples:
    """Mean of the channels, full scale 1."""
    stored = frame.to_ndarray()
    channels = stored if frame.format.is_planar else stored.reshape(-1, frame.layout.nb_channels).T
    mixed = channels.astype(np.float64).mean(axis=0)
    zero, full = _SCALES[stored.dtype.name]
    return np.asarray((mixed - zero) / full, dtype=np.float32)
