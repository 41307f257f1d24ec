"""A stretch of a film as a file of its own: its pictures and sound copied as they are, nothing encoded again."""

from __future__ import annotations  # PyAV's Packet takes a type argument only for the type checker

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import av
from av.audio.stream import AudioStream
from av.container import InputContainer
from av.packet import Packet
from av.video.stream import VideoStream

from balltrack.errors import VideoError
from balltrack.video.clip import ClipInfo, probe
from balltrack.video.container import DECODER_ERRORS, go_to, opened, video_stream
from balltrack.video.phone import FOCALS_35MM, LENSES, read_phone

# Of a film's tags these go along: who filmed, when and how fast. All others stay behind, above all the place.
KEPT_TAGS = frozenset(
    {
        "com.apple.quicktime.make",
        "com.apple.quicktime.model",
        "com.apple.quicktime.software",
        "com.apple.quicktime.creationdate",
        "com.apple.quicktime.full-frame-rate-playback-intent",
        "com.android.manufacturer",
        "com.android.model",
        "com.android.version",
        "make",
        "model",
        "creation_time",
    }
)
CAPTURE_RATE = "com.android.capture.fps"
NOTE = "comment"  # the tag that carries our own note
BEFORE_SOUND_S = 0.1  # sound is copied from so much earlier: a codec needs the block before to begin
SAME_SCALE = 0.01  # a part's real seconds per second against the whole's
_REORDER_FRAMES = 8  # a key frame may be shown this many frames after its place in the file; phones reorder 1 to 3
_WITH_EDITS = {"movflags": "use_metadata_tags+faststart", "avoid_negative_ts": "disabled"}


@dataclass(frozen=True, slots=True)
class Cut:
    """What to copy. Clip time of the film that it is cut from, real seconds."""

    start_s: float
    stop_s: float
    note: str  # kept in the file; `note_of` reads it


class _Coded(NamedTuple):
    """One picture or piece of sound as it is in a file, and when it is shown or heard, in its stream's time base."""

    packet: Packet[Any]
    shown: int


_Track = tuple[VideoStream | AudioStream, Sequence[_Coded], Fraction]  # and what its clock begins with [file time, s]


@contextmanager
def cutter(info: ClipInfo) -> Iterator[Cutter]:
    """Open a film, as `probe` gives it, to cut from it again and again. Raises VideoError where it cannot be read."""
    alone, tags = probe(info.path), _kept_tags(info)
    with opened(info.path) as film:
        yield Cutter(info, film, alone, tags)


class Cutter:
    """Copies stretches of an opened film into files of their own; made by `cutter`."""

    def __init__(self, info: ClipInfo, film: InputContainer, alone: ClipInfo, tags: dict[str, str]) -> None:
        """``alone`` is what the film tells of itself, without what a person may have added."""
        self._info, self._film, self._alone, self._tags = info, film, alone, tags
        self._video = video_stream(film, info.path)
        self._sound = film.streams.audio[0] if film.streams.audio else None

    def cut(self, cut: Cut, path: Path) -> None:
        """Copy a stretch into a new file; its suffix says in what container. It must not exist.

        The file's clock begins with the first picture at or after ``cut.start_s``. Pictures before it, from the key
        frame on, are in the file for the decoder's sake, and an edit list hides them; a Matroska file has none: there
        they show.

        Raises
        ------
        VideoError
            If the film holds no picture there, or such a container does not show it as the film does.
        """
        name = self._info.path.name
        words = f"{name}: {cut.start_s:.1f} to {cut.stop_s:.1f} s cannot be copied into {path.suffix}"
        tracks = self._tracks(cut)
        if not tracks:
            raise VideoError(f"{words}: there is no picture; copy the film from the phone again")
        try:
            _write(path, tracks, self._tags | {NOTE: cut.note})
            _check_alike(probe(path), self._alone)
        except (VideoError, *DECODER_ERRORS) as error:
            path.unlink(missing_ok=True)
            raise VideoError(f"{words}: {error}") from None

    def _tracks(self, cut: Cut) -> list[_Track]:
        """Pictures, and sound where there is any; nothing where there is no picture."""
        info = self._info
        pictures, first_s = _pictures(self._film, self._video, cut, info.time_scale)
        if not pictures:
            return []
        # A player starts both clocks with the first picture that it shows.
        tracks: list[_Track] = [(self._video, pictures, first_s)]
        if self._sound is not None:
            scales = Fraction(info.time_scale / info.sound_time_scale)
            sounds = _sounds(self._film, self._sound, cut, info.sound_time_scale)
            tracks.append((self._sound, sounds, first_s * scales))
        return tracks


def note_of(path: Path) -> str:
    """The note in a file that was cut; empty where there is none. Raises VideoError where it cannot be opened."""
    with opened(path) as container:
        tags = {key.casefold(): value for key, value in container.metadata.items()}
    return tags.get(NOTE, "")


def _check_alike(part: ClipInfo, whole: ClipInfo) -> None:
    """A container that loses how a film is turned, or how fast it was filmed, will not do."""
    if (part.size_px, part.rotation_deg, part.mirrored) != (whole.size_px, whole.rotation_deg, whole.mirrored):
        raise VideoError("it would not be shown upright")
    if abs(part.time_scale / whole.time_scale - 1) > SAME_SCALE:
        raise VideoError("it would not say how fast it was filmed")


def _kept_tags(info: ClipInfo) -> dict[str, str]:
    with opened(info.path) as film:
        tags = {key: value for key, value in film.metadata.items() if key.casefold() in KEPT_TAGS}
        capture = film.metadata.get(CAPTURE_RATE)
    if capture and info.time_scale != 1.0:  # else it was not believed of the film, nor shall be of its parts
        tags[CAPTURE_RATE] = capture
    phone = read_phone(info.path)
    tags |= {LENSES[0]: phone.lens} if phone.lens else {}
    return tags | ({FOCALS_35MM[0]: f"{phone.focal_35mm:g}"} if phone.focal_35mm else {})


def _pictures(film: InputContainer, stream: VideoStream, cut: Cut, scale: float) -> tuple[list[_Coded], Fraction]:
    """The pictures from the last key frame shown at or before the start on, and when the first wanted one is shown.

    In the order of decoding, up to the last that is shown before the stop. [file time, s]
    """
    base = stream.time_base or Fraction(1)
    start, stop = round(cut.start_s / scale / base), round(cut.stop_s / scale / base)
    margin = round(_REORDER_FRAMES / float(stream.average_rate or 30) / base)
    go_to(film, stream, start - margin)
    kept: list[_Coded] = []
    for each in _coded(film, stream):
        key = each.packet.is_keyframe
        if key and (not kept or each.shown <= start):
            kept = []
        if each.shown >= stop + margin:
            break
        if key or (kept and each.shown >= kept[0].shown):
            kept.append(each)
    wanted = [i for i, each in enumerate(kept) if start <= each.shown < stop]
    if not wanted:
        return [], Fraction(0)
    return kept[: wanted[-1] + 1], min(kept[i].shown for i in wanted) * base


def _sounds(film: InputContainer, stream: AudioStream, cut: Cut, scale: float) -> list[_Coded]:
    base = stream.time_base or Fraction(1)
    begin, stop = round((cut.start_s / scale - BEFORE_SOUND_S) / base), round(cut.stop_s / scale / base)
    go_to(film, stream, begin)
    kept: list[_Coded] = []
    for each in _coded(film, stream):
        if each.shown >= stop:
            break
        if each.shown + (each.packet.duration or 0) > begin:
            kept.append(each)
    return kept


def _coded(film: InputContainer, stream: VideoStream | AudioStream) -> Iterator[_Coded]:
    """As far as the file can be read; what has no time is left out."""
    demuxed = film.demux(stream)
    while True:
        try:
            packet = next(demuxed)
        except (StopIteration, *DECODER_ERRORS):
            return
        shown = packet.dts if packet.pts is None else packet.pts
        if packet.size and shown is not None:
            yield _Coded(packet, shown)


def _retime(coded: Sequence[_Coded], start_s: Fraction) -> None:
    """Show each ``start_s`` earlier. When it is decoded is told anew: some phones' files say after it is shown."""
    start = round(start_s / coded[0].packet.time_base)
    due = sorted(each.shown for each in coded)
    delay = max(time - each.shown for time, each in zip(due, coded, strict=True))
    before: int | None = None
    for time, each in zip(due, coded, strict=True):
        decoded = time - delay - start
        before = decoded if before is None else max(decoded, before + 1)
        each.packet.dts, each.packet.pts = before, max(each.shown - start, before)


def _write(path: Path, tracks: Sequence[_Track], tags: dict[str, str]) -> None:
    """One file of the tracks, their packets in the order in which a player wants them."""
    with av.open(str(path), "w", options={} if path.suffix == ".mkv" else _WITH_EDITS) as made:
        made.metadata.update(tags)
        packets: list[Packet[Any]] = []
        for stream, coded, start_s in tracks:
            if not coded:
                continue
            new = made.add_stream_from_template(stream)
            if "title" in stream.metadata:  # some phones write the rotation there
                new.metadata["title"] = stream.metadata["title"]
            _retime(coded, start_s)
            for each in coded:
                each.packet.stream = new
            packets += [each.packet for each in coded]
        for packet in sorted(packets, key=lambda packet: (packet.dts or 0) * packet.time_base):
            made.mux(packet)
