"""What the phone hears: the bat's crack, late by the way it travels, in wind, talk and claps."""

import numpy as np

from .arrays import Floats
from .encode import SAMPLE_HZ
from .impact import impact_of
from .optics import Optics
from .play import Play
from .scene_spec import SceneSpec

SOUND_MPS = 343.2  # dry air at 20 °C: 331.3 sqrt(1 + 20/273.15)


def hear(spec: SceneSpec, plays: list[Play], optics: Optics, index: int) -> Floats | None:
    """Sound of a clip at 48 kHz, -1..1; None for a clip without sound."""
    if spec.sound == "none":
        return None
    rng = np.random.default_rng([spec.seed, 300 + index])
    length_s = plays[-1].start_s + plays[-1].length_s
    out = _background(rng, spec, int(length_s * SAMPLE_HZ) + 2400)
    for play in plays:
        _add_play(out, rng, spec, play, optics)
    if spec.sound == "busy":
        for _ in range(int(rng.integers(1, 4))):
            _add(out, _clap(rng) * rng.uniform(0.02, 0.10), float(rng.uniform(0.05, length_s)))
    return np.asarray(np.tanh(1.2 * out) / 1.2)


def _add_play(out: Floats, rng: np.random.Generator, spec: SceneSpec, play: Play, optics: Optics) -> None:
    """One swing's crack or whoosh, and the ball's thuds."""
    far = float(np.linalg.norm(play.contact_m - optics.position_m))
    heard_s = play.start_s + play.contact_s + far / SOUND_MPS
    if play.outcome == "foul_tip":
        _add(out, _tick(rng) * rng.uniform(0.05, 0.16) * (5.0 / far), heard_s)
    elif play.hit:
        _add(out, _crack(rng, spec.bat_kind) * rng.uniform(0.45, 0.9) * (5.0 / far), heard_s)
    else:
        _add(out, _whoosh(rng) * (0.015 if play.outcome == "checked" else 0.06) * (5.0 / far), heard_s - 0.06)
    if play.mitt_m is not None:
        taken_s = play.pieces[-1].start_s
        away = float(np.linalg.norm(play.mitt_m - optics.position_m))
        _add(out, _pop(rng) * 0.3 * (4.0 / away), play.start_s + taken_s + away / SOUND_MPS)
    impact = impact_of(play.pieces, spec, play.contact_s)
    for piece in play.pieces[1:]:
        if piece.phase == "bounce" and play.contact_s < piece.start_s < play.length_s:
            place = play.ball(np.array([piece.start_s]))[0]
            away = float(np.linalg.norm(place - optics.position_m))
            thud = _thud(rng) * 0.25
            if impact is not None and piece.start_s == impact.time_s:
                thud = _whoosh(rng) * 0.03 if impact.soft else _thud(rng) * 0.5  # a net hisses, a wall booms
            _add(out, thud * (4.0 / max(away, 2.0)), play.start_s + piece.start_s + away / SOUND_MPS)


def _add(out: Floats, event: Floats, time_s: float) -> None:
    """Mix an event in at a time exact to a fraction of a sample (linear)."""
    start = int(np.floor(time_s * SAMPLE_HZ))
    share = time_s * SAMPLE_HZ - start
    moved = np.concatenate([event, [0.0]]) * (1 - share) + np.concatenate([[0.0], event]) * share
    a, b = max(start, 0), min(start + len(moved), len(out))
    if b > a:
        out[a:b] += moved[a - start : b - start]


def _colour(rng: np.random.Generator, count: int, low_hz: float, high_hz: float, slope: float = 0.0) -> Floats:
    """Noise of unit spread within a band; ``slope`` is the power of 1/f."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    hertz = np.fft.rfftfreq(count, 1 / SAMPLE_HZ)
    gain = 1.0 / (1.0 + (hertz / high_hz) ** 4) * (hertz / low_hz) ** 2 / (1.0 + (hertz / low_hz) ** 2)
    gain = gain / np.maximum(hertz, 20.0) ** slope
    made = np.fft.irfft(spectrum * gain, count)
    return np.asarray(made / max(float(made.std()), 1e-12))


def _background(rng: np.random.Generator, spec: SceneSpec, count: int) -> Floats:
    out = 0.004 * _colour(rng, count, 80, 6000, 0.5)
    slow = np.arange(count) / SAMPLE_HZ
    if spec.sound == "windy":
        gust = 0.5 + 0.5 * np.sin(2 * np.pi * 0.6 * slow + rng.uniform(0, 6)) * np.sin(2 * np.pi * 1.7 * slow)
        out += 0.10 * gust**2 * _colour(rng, count, 25, 160, 0.5) + 0.006 * _colour(rng, count, 100, 2500)
    if spec.sound == "music":
        out += _music(rng, count)
    if spec.sound == "busy":
        for _ in range(3):
            beat = np.clip(np.sin(2 * np.pi * rng.uniform(2.5, 5) * slow + rng.uniform(0, 6)), 0, 1)
            low = rng.uniform(150, 350)
            out += rng.uniform(0.006, 0.02) * beat * _colour(rng, count, low, 6 * low, 0.3)
    return out


def _crack(rng: np.random.Generator, kind: str) -> Floats:
    """Peak near 1 within a fraction of a millisecond; rings longer on metal."""
    count = int(0.16 * SAMPLE_HZ)
    t = np.arange(count) / SAMPLE_HZ
    wall, decay, tones = {
        "metal": (0.7, 0.006, [(1900, 0.5, 0.030), (4300, 0.3, 0.018), (6800, 0.15, 0.010)]),
        "composite": (0.8, 0.007, [(1150, 0.45, 0.014), (2400, 0.2, 0.008)]),
        "wood": (1.0, 0.004, [(550, 0.3, 0.007), (1500, 0.35, 0.005)]),
    }[kind]
    attack = 1.0 - np.exp(-t / 0.00012)
    out = wall * _colour(rng, count, 300, 12000) * 0.35 * np.exp(-t / decay)
    for hertz, level, fade in tones:
        out += level * np.sin(2 * np.pi * hertz * rng.uniform(0.93, 1.07) * t + rng.uniform(0, 6)) * np.exp(-t / fade)
    room = 0.05 * _colour(rng, count, 200, 4000) * np.exp(-t / 0.045)
    out = attack * (out + room)
    return np.asarray(out / np.abs(out).max())


def _tick(rng: np.random.Generator) -> Floats:
    """A graze: duller and shorter than a crack."""
    t = np.arange(int(0.05 * SAMPLE_HZ)) / SAMPLE_HZ
    knock = np.sin(2 * np.pi * rng.uniform(350, 700) * t) * np.exp(-t / 0.004)
    return np.asarray(
        (1 - np.exp(-t / 0.0004)) * (0.6 * knock + 0.4 * _colour(rng, len(t), 250, 2200) * np.exp(-t / 0.003))
    )


def _pop(rng: np.random.Generator) -> Floats:
    """A ball in leather."""
    t = np.arange(int(0.08 * SAMPLE_HZ)) / SAMPLE_HZ
    return np.asarray((1 - np.exp(-t / 0.0006)) * 0.5 * _colour(rng, len(t), 150, 1500) * np.exp(-t / 0.010))


def _music(rng: np.random.Generator, count: int) -> Floats:
    """A loudspeaker somewhere: drums on a steady beat, a bass line, chords."""
    out, loud = np.zeros(count), float(rng.uniform(0.4, 1.3))
    step_s = 60.0 / float(rng.uniform(88, 132)) / 4.0
    start_s, root = -float(rng.uniform(0, 8)) * step_s, float(rng.uniform(45, 70))
    notes = root * 2.0 ** (rng.choice([0, 3, 5, 7, 10], 8) / 12.0)
    for number in range(int(count / SAMPLE_HZ / step_s) + 10):
        moment, place = start_s + number * step_s, number % 16
        if place in (0, 6, 8):
            _add(out, 0.11 * loud * _kick(), moment)
        if place in (4, 12):
            _add(out, 0.06 * loud * _drum(rng, 900, 5000, 0.06), moment)
        if place % 2 == 0:
            _add(out, 0.022 * loud * _drum(rng, 5000, 14000, 0.018), moment)
            _add(out, 0.035 * loud * _note(float(notes[number // 2 % 8]), 2 * step_s), moment)
        if place == 0:
            for part in (4.0, 5.0397, 5.9932):  # a major triad two octaves up
                _add(out, 0.012 * loud * _note(root * part, 14 * step_s), moment)
    return out


def _kick() -> Floats:
    t = np.arange(int(0.2 * SAMPLE_HZ)) / SAMPLE_HZ
    return np.asarray(
        np.sin(2 * np.pi * (48 * t - 2.2 * np.exp(-t / 0.03))) * np.exp(-t / 0.07) * (1 - np.exp(-t / 0.001))
    )


def _drum(rng: np.random.Generator, low_hz: float, high_hz: float, decay_s: float) -> Floats:
    t = np.arange(int(6 * decay_s * SAMPLE_HZ)) / SAMPLE_HZ
    return np.asarray(_colour(rng, len(t), low_hz, high_hz) * np.exp(-t / decay_s) * (1 - np.exp(-t / 0.0005)))


def _note(hertz: float, length_s: float) -> Floats:
    t = np.arange(int(length_s * SAMPLE_HZ)) / SAMPLE_HZ
    tone = sum(np.sin(2 * np.pi * hertz * k * t) / k**1.5 for k in (1, 2, 3, 4))
    return np.asarray(tone * (1 - np.exp(-t / 0.004)) * np.exp(-t / (0.6 * length_s)))


def _thud(rng: np.random.Generator) -> Floats:
    t = np.arange(int(0.12 * SAMPLE_HZ)) / SAMPLE_HZ
    body = np.sin(2 * np.pi * 95 * t) * np.exp(-t / 0.025) + 0.25 * _colour(rng, len(t), 60, 900) * np.exp(-t / 0.012)
    return np.asarray((1 - np.exp(-t / 0.0015)) * body)


def _clap(rng: np.random.Generator) -> Floats:
    t = np.arange(int(0.08 * SAMPLE_HZ)) / SAMPLE_HZ
    return np.asarray(_colour(rng, len(t), 700, 3500) * np.exp(-t / 0.009) * (1 - np.exp(-t / 0.0006)))


def _whoosh(rng: np.random.Generator) -> Floats:
    t = np.arange(int(0.16 * SAMPLE_HZ)) / SAMPLE_HZ
    return np.asarray(_colour(rng, len(t), 250, 1800) * np.exp(-(((t - 0.07) / 0.03) ** 2)))
