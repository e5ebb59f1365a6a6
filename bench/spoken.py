"""Counting aloud by a speech synthesiser (Debian's ``espeak-ng``), for the bench's hard takes."""

import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

__all__ = ["can_speak", "counted_words"]

_VOICES = ("en-us", "en-gb", "en-us+f3", "en-gb+m7", "de", "es")
_WORDS = {
    "en": ("one", "two", "three", "four"),
    "de": ("eins", "zwei", "drei", "vier"),
    "es": ("uno", "dos", "tres", "cuatro"),
}


def can_speak() -> bool:
    """Tell whether the synthesiser is installed."""
    return shutil.which("espeak-ng") is not None


@cache
def _say(voice: str, pitch: int, speed: int) -> tuple[NDArray[np.float64], ...]:
    import soundfile
    import soxr

    words = []
    with tempfile.TemporaryDirectory() as folder:
        for word in _WORDS[voice[:2]]:
            path = Path(folder, "word.wav")
            command = ["espeak-ng", "-v", voice, "-p", str(pitch), "-s", str(speed)]
            subprocess.run([*command, "-w", str(path), word], check=True, capture_output=True)
            sound, rate_hz = soundfile.read(path)
            sound = soxr.resample(sound, rate_hz, 48_000)
            loud = np.flatnonzero(np.abs(sound) > 0.02 * np.max(np.abs(sound)))
            piece = sound[loud[0] : loud[-1] + 1]
            words.append(piece / np.max(np.abs(piece)))
    return tuple(words)


def counted_words(seed: int, rate_hz: int) -> tuple[NDArray[np.float64], ...]:
    """Four counted words of one voice, peak 1, at ``rate_hz``."""
    import soxr

    rng = np.random.default_rng([seed, 47])
    voice = _VOICES[int(rng.integers(len(_VOICES)))]
    words = _say(voice, int(rng.choice([25, 45, 65])), int(rng.choice([170, 220, 280])))
    return tuple(soxr.resample(word, 48_000, rate_hz) for word in words)
