"""What is heard on a field beside the bat in front of the phone, made up: full scale is 1, 48 kHz."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
RATE_HZ = 48000


def crack(loud: float) -> Floats:
    """A bat's, from another cage: 6 ms of decay."""
    at_s = np.arange(round(0.1 * RATE_HZ)) / RATE_HZ
    noise = np.random.default_rng(1).standard_normal(len(at_s))
    return np.asarray(loud * noise * np.exp(-at_s / 0.006), np.float64)


def claps(count: int, loud: float) -> Floats:
    """Two hands, three a second."""
    return np.concatenate([np.append(crack(loud), np.zeros(round(0.23 * RATE_HZ))) for _ in range(count)])


def clang(loud: float) -> Floats:
    """A metal bat on the ground, and again."""
    at_s = np.arange(round(0.25 * RATE_HZ)) / RATE_HZ
    ring = np.sin(2 * np.pi * 1900 * at_s) * np.exp(-at_s / 0.03)
    return np.asarray(loud * np.concatenate([ring, 0.6 * ring]), np.float64)


def speech(seconds: float, loud: float) -> Floats:
    """Four syllables a second of a voice of 120 Hz, each begun by a hiss."""
    at_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    voice = sum(np.sin(2 * np.pi * 120 * k * at_s) / k for k in range(1, 12))
    within = (4 * at_s) % 1
    hiss = np.random.default_rng(2).standard_normal(len(at_s)) * (within < 0.1)
    return np.asarray(loud * (voice * np.sin(np.pi * within) ** 2 + 0.5 * hiss), np.float64)
