"""One clip gone through once: what its sound and its pictures tell of swings, and the frames kept for a closer look."""

from dataclasses import dataclass

from balltrack.camera.model import Camera
from balltrack.contact import Cue, StirMeter, deaf_outside, find_cues, heard_sd_s, sound_delay_s
from balltrack.detect.samples import Samples
from balltrack.lesson import Clip
from balltrack.memory import give_back
from balltrack.onset import Onset, find_onsets
from balltrack.video.clip import ClipInfo
from balltrack.video.frames import read_sparingly
from balltrack.video.sound import read_sound
from balltrack.video.window import Head, room_for_whole_bytes

# Far from sharp sounds only swings that nobody heard are looked for, in about 30 pictures a second (`StirMeter`).
ELSEWHERE_APART_S = 1.02 / 30  # phones' times waver


@dataclass(frozen=True, slots=True, eq=False)
class Take:
    """One clip as it is being measured."""

    clip: Clip
    info: ClipInfo
    samples: Samples
    head: Head  # frames that are at hand
    cues: tuple[Cue, ...]  # moments at which a bat may have met a ball

    @property
    def frame_s(self) -> float:
        """Usual time from frame to frame, real seconds."""
        return 1 / (self.info.nominal_fps or 30.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Heard:
    """What the clip's sound tells."""

    onsets: tuple[Onset, ...] | None  # None: the clip has no sound
    span_s: tuple[float, float]  # contacts from the one time to the other would have been heard


@dataclass(frozen=True, slots=True)
class Near:
    """What is kept about the loudest sharp sounds: from how long before to how long after each. [s]"""

    every_s: tuple[float, float]  # all frames, as far as memory reaches
    some_s: tuple[float, float]  # more of the samples than elsewhere


def watch(clip: Clip, info: ClipInfo, camera: Camera, sound_mps: float, near: Near) -> Take:
    """Go through the whole clip once.

    Parameters
    ----------
    clip : Clip
    info : ClipInfo
    camera : Camera
    sound_mps : float
        How fast sound travels. [m/s]
    near : Near

    Raises
    ------
    VideoError
        If the clip cannot be read.
    """
    delay_s = sound_delay_s(camera, sound_mps)
    heard = _listen(info, delay_s)
    loudest = sorted(heard.onsets or (), key=lambda onset: -onset.strength_db)
    times = [onset.time_s - delay_s for onset in loudest]
    spans = [(time_s + near.every_s[0], time_s + near.every_s[1]) for time_s in times]
    wanted = [(time_s + near.some_s[0], time_s + near.some_s[1]) for time_s in times[:1]]
    room_bytes = room_for_whole_bytes(info)
    meter, samples, head = StirMeter(camera), Samples(wanted, room_bytes // 2), Head(spans, room_bytes)
    for frame in read_sparingly(info, spans, ELSEWHERE_APART_S):
        meter.add(frame)
        samples.add(frame)
        head.add(frame)
    samples.rest()
    head.rest()
    give_back()  # the decoder's pictures, and what it took to keep some
    cues = find_cues(heard.onsets, meter.stir(), delay_s, heard_sd_s(info.time_scale))
    if heard.onsets is not None:
        cues = deaf_outside(cues, *heard.span_s)
    return Take(clip, info, samples, head, cues)


def _listen(info: ClipInfo, delay_s: float) -> _Heard:
    sound = read_sound(info.path, info)
    if sound is None:
        return _Heard(None, (0.0, 0.0))
    return _Heard(find_onsets(sound), (sound.start_s - delay_s, sound.stop_s - delay_s))
