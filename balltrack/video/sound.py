"""The sound of a clip as samples on the clip's own clock."""

import contextlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain, groupby
from pathlib import Path
from typing import Any

import numpy as np
from av.audio.frame import AudioFrame
from av.audio.stream import AudioStream
from av.container import InputContainer
from numpy.typing import NDArray

from balltrack.video.clip import ClipInfo, probe
from balltrack.video.container import DECODER_ERRORS, opened, packets, sound_stream

Samples = NDArray[np.float32]
_Stored = NDArray[Any]  # (channels, n) of whatever type the file has

# Stored value of silence and of full scale, by sample type.
_SCALES = {
    "uint8": (128.0, 128.0),
    "int16": (0.0, 2.0**15),
    "int32": (0.0, 2.0**31),
    "int64": (0.0, 2.0**63),
    "float32": (0.0, 1.0),
    "float64": (0.0, 1.0),
}
_SILENT = 1e-4  # of full scale: 80 dB below it, where even a microphone in a still room is louder
_JITTER_S = 0.002  # containers round a piece's time to 1 ms or so; a smaller step is no hole
_MOST_SILENCE_S = 600.0  # in all: a small file of nothing but holes would fill the memory
_TOGETHER = 64  # pieces are mixed at a time: one by itself costs more than its arithmetic, all would fill the memory
_LONGEST_GAP_S = 60.0  # a longer hole between two pieces of sound is a broken timestamp, not silence


@dataclass(frozen=True, slots=True, eq=False)
class Sound:
    """Mono sound. Sample i was heard at ``start_s + i / rate_hz`` in clip time, real seconds."""

    samples: Samples  # (n,) full scale is -1..1
    rate_hz: float  # samples per real second: above the file's own where slow motion stretched the sound
    start_s: float

    @property
    def stop_s(self) -> float:
        """Clip time at which it ends."""
        return self.start_s + len(self.samples) / self.rate_hz


def read_sound(
    path: Path, info: ClipInfo | None = None, start_s: float | None = None, stop_s: float | None = None
) -> Sound | None:
    """Decode the sound alone, mixed to mono, with holes between its pieces filled with silence.

    Where ``start_s`` or ``stop_s`` are given [clip time, s], at least from the one to the other, but for what a codec
    needs to begin (0.1 s). Returns None where there is no sound, none that decodes, or only silence from end to end, as
    of a phone that may not use its microphone: no crack is no miss then.

    Raises
    ------
    VideoError
        Where the clip cannot be opened or has no picture.
    """
    info = info or probe(path)
    if not info.has_sound:
        return None
    with opened(info.path, header_only=info.container == "mov") as container:
        stream = sound_stream(container)
        if stream is None:
            return None
        _seek(container, stream, start_s, info.sound_time_scale)
        frames = _until(_decoded(container, stream), stop_s, info.sound_time_scale)
        first = next(frames, None)
        if first is None:
            return None
        rate_hz = first.sample_rate
        begin_s = first.time or 0.0
        samples = _joined(chain([first], frames), begin_s, rate_hz)
    if start_s is None and stop_s is None and np.max(np.abs(samples), initial=0.0) < _SILENT:
        return None
    scale = info.sound_time_scale
    return Sound(samples, rate_hz / scale, begin_s * scale)


def _seek(container: InputContainer, stream: AudioStream, start_s: float | None, scale: float) -> None:
    if start_s is None or stream.time_base is None:
        return
    target = int(start_s / scale / stream.time_base)
    if target > (stream.start_time or 0):
        with contextlib.suppress(*DECODER_ERRORS):  # it cannot seek: read from where it stands
            container.seek(target, stream=stream, backward=True)


def _until(frames: Iterable[AudioFrame], stop_s: float | None, scale: float) -> Iterator[AudioFrame]:
    for frame in frames:
        if stop_s is not None and frame.time is not None and frame.time * scale >= stop_s:
            return
        yield frame


def _decoded(container: InputContainer, stream: AudioStream) -> Iterator[AudioFrame]:
    for packet in packets(container, stream):
        try:
            yield from stream.decode(packet)
        except (EOFError, *DECODER_ERRORS):
            continue  # a damaged packet leaves a hole, which its neighbours' times show


def _joined(frames: Iterable[AudioFrame], start_s: float, rate_hz: int) -> Samples:
    """One run of samples."""
    pieces = enumerate(_pieces(frames, start_s, rate_hz))
    together = groupby(pieces, lambda each: (each[0] // _TOGETHER, _kind(each[1])))
    return np.concatenate([_mono([piece for _, piece in group]) for _, group in together])


def _pieces(frames: Iterable[AudioFrame], start_s: float, rate_hz: int) -> Iterator[_Stored | int]:
    """What is stored, or so much silence: holes are filled, overlaps are cut, so that every sample keeps its time."""
    end = filled = 0  # samples so far, and those of silence among them
    tolerance = _JITTER_S * rate_hz
    for frame in frames:
        if frame.sample_rate != rate_hz:
            continue
        stored = _channels(frame)
        place = end if frame.time is None else round((frame.time - start_s) * rate_hz)
        hole = place - end
        if hole > _LONGEST_GAP_S * rate_hz or filled + hole > _MOST_SILENCE_S * rate_hz or abs(hole) <= tolerance:
            place = end
        if place < end:
            stored = stored[:, end - place :]
        elif place > end:
            yield place - end
            filled += place - end
        yield stored
        end = max(place, end) + stored.shape[1]


def _channels(frame: AudioFrame) -> _Stored:
    """(channels, n) as stored."""
    stored = frame.to_ndarray()
    return stored if frame.format.is_planar else stored.reshape(-1, frame.layout.nb_channels).T


def _kind(piece: _Stored | int) -> tuple[str, int]:
    """Only pieces of one kind are mixed together."""
    return ("silence", 0) if isinstance(piece, int) else (piece.dtype.name, len(piece))


def _mono(pieces: list[_Stored | int]) -> Samples:
    """Mean of the channels of pieces of one kind, full scale 1."""
    stored = [piece for piece in pieces if not isinstance(piece, int)]
    if not stored:
        return np.zeros(sum(piece for piece in pieces if isinstance(piece, int)), dtype=np.float32)
    mixed = np.concatenate(stored, axis=1).astype(np.float64).mean(axis=0)
    zero, full = _SCALES[stored[0].dtype.name]
    return np.asarray((mixed - zero) / full, dtype=np.float32)
