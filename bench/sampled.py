"""Real drums, as free sample sets have them, for the simulated players to hit.

Sources (Debian packages, none of them shipped here): ``fluid-soundfont-gm`` (MIT) through
``fluidsynth``, ``sonic-pi-samples`` (CC0 one-shots), ``hydrogen-drumkits`` (three acoustic kits,
CC BY-SA 3.0 and GPL, used here to measure only). A sample's attack starts late by as much as its
maker left: going back from the attack, the onset is where the half millisecond before last lay
below 2 % of the peak; it is told with each stroke. It is good to a few tenths of a millisecond,
less where a soft layer has noise before the attack.
"""

import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

__all__ = ["SampledDrum", "draw_sampled", "sampled_drums"]

FloatArray = NDArray[np.float64]
RATE_HZ = 48_000
_SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
_ONE_SHOTS = Path("/usr/share/sonic-pi/samples")
_KITS = Path("/usr/share/hydrogen/data/drumkits")
# General MIDI percussion: side stick, snares, hats, toms, ride, high wood block.
_KEYS = {"stick": 37, "snare": 38, "snare two": 40, "hat": 42, "pedal hat": 44, "tom": 48}
_KEYS |= {"low tom": 45, "ride": 51, "block": 76}
_VELOCITIES = (35, 60, 80, 100, 120)
_SHOTS = {
    "snare": ("drum_snare_soft", "drum_snare_hard"),
    "hat": ("drum_cymbal_closed",),
    "tom": ("drum_tom_mid_soft", "drum_tom_mid_hard"),
    "high tom": ("drum_tom_hi_soft", "drum_tom_hi_hard"),
    "snap": ("perc_snap", "perc_snap2"),
}
_KIT_NAMES = ("BJA_Pacific", "ColomboAcousticDrumkit", "Millo_MultiLayered3")
_KIT_WORDS = ("snare", "hat", "hihat", "ride", "tom", "stick")


@dataclass(frozen=True)
class SampledDrum:
    """Recorded strokes of one drum, soft to hard: each with its samples and its onset in them."""

    name: str
    layers: tuple[tuple[NDArray[np.float32], int], ...]

    def render(
        self, level_db: float, rng: np.random.Generator
    ) -> tuple[NDArray[np.float32], float]:
        """One stroke at 48 kHz and the time of its onset; speed varies by 1.5 % a stroke."""
        top = len(self.layers) - 1
        at = np.clip(top * (1 + level_db / 18.0) + rng.normal(0, 0.3), 0, top)
        samples, onset = self.layers[round(float(at))]
        speed = 1.0 + rng.normal(0.0, 0.005)
        where = np.arange(int(samples.size / speed)) * speed
        sound = np.interp(where, np.arange(samples.size), samples)
        start = round(onset / speed)
        power = float(np.mean(sound[start : start + int(0.03 * RATE_HZ)] ** 2))
        gain = 0.1 / np.sqrt(max(power, 1e-12)) * 10 ** (level_db / 20)
        return (sound * gain).astype(np.float32), start / RATE_HZ


def _envelope(sound: FloatArray) -> FloatArray:
    """Largest absolute sample of the half millisecond up to each sample."""
    reach = int(0.0005 * RATE_HZ)
    padded = np.pad(np.abs(sound), (reach, 0))
    return np.lib.stride_tricks.sliding_window_view(padded, reach + 1).max(axis=1)


def _trimmed(sound: FloatArray) -> tuple[NDArray[np.float32], int] | None:
    """A stroke from 5 ms before its onset, at most 1.2 s long, and the onset in samples."""
    peak = float(np.max(np.abs(sound))) if sound.size else 0.0
    if peak < 1e-4:
        return None
    loud = int(np.argmax(np.abs(sound) > 0.3 * peak))
    top = float(np.max(np.abs(sound[loud : loud + int(0.05 * RATE_HZ)])))
    quiet = np.flatnonzero(_envelope(sound[: loud + 1]) < 0.02 * top)
    onset = int(quiet[-1]) + 1 if quiet.size else 0
    start = max(0, onset - int(0.005 * RATE_HZ))
    piece = sound[start : start + int(1.2 * RATE_HZ)] / peak
    fade = np.minimum(1.0, (piece.size - np.arange(piece.size)) / (0.05 * RATE_HZ))
    return (piece * fade).astype(np.float32), onset - start


def _read(path: Path) -> FloatArray:
    import soundfile
    import soxr

    sound, rate_hz = soundfile.read(path, always_2d=True)
    return soxr.resample(sound.mean(axis=1), rate_hz, RATE_HZ)


def _soundfont_layers(key: int) -> list[FloatArray]:
    """Render one percussion key at each velocity, two seconds apart, without reverb."""
    import mido

    track = mido.MidiTrack()
    for velocity in _VELOCITIES:
        track.append(mido.Message("note_on", channel=9, note=key, velocity=velocity, time=0))
        track.append(mido.Message("note_off", channel=9, note=key, time=960 * 2))
    song = mido.MidiFile(ticks_per_beat=480)
    song.tracks.append(track)
    with tempfile.TemporaryDirectory() as folder:
        midi, wave = Path(folder, "strokes.mid"), Path(folder, "strokes.wav")
        song.save(midi)
        command = ["fluidsynth", "-niq", "-R", "0", "-C", "0", "-g", "0.5", "-r", str(RATE_HZ)]
        subprocess.run(
            [*command, "-F", str(wave), str(_SOUNDFONT), str(midi)],
            check=True,
            capture_output=True,
        )
        sound = _read(wave)
    step = 2 * RATE_HZ
    return [sound[at * step : (at + 1) * step] for at in range(len(_VELOCITIES))]


def _kit_instruments(kit: str) -> dict[str, list[Path]]:
    """Instruments of a kit with their sample files, soft to hard."""
    from xml.etree import ElementTree

    folder = _KITS / kit
    root = ElementTree.parse(folder / "drumkit.xml").getroot()
    for element in root.iter():
        element.tag = element.tag.split("}")[-1]
    found: dict[str, list[Path]] = {}
    for instrument in root.iter("instrument"):
        name = (instrument.findtext("name") or "").lower()
        layers = [
            (float(layer.findtext("min") or 0.0), folder / (layer.findtext("filename") or ""))
            for layer in instrument.iter("layer")
        ]
        files = [path for _, path in sorted(layers) if path.is_file()]
        if (
            files
            and any(word in name for word in _KIT_WORDS)
            and not set(name.split()) & {"open", "roll", "free"}
        ):
            found[name] = files
    return found


def _drum(name: str, sounds: list[FloatArray]) -> SampledDrum | None:
    layers = [layer for layer in map(_trimmed, sounds) if layer is not None]
    return SampledDrum(name, tuple(layers)) if layers else None


@cache
def sampled_drums() -> tuple[SampledDrum, ...]:
    """All sampled drums whose packages are installed; empty where none is."""
    drums: list[SampledDrum | None] = []
    if _SOUNDFONT.is_file() and shutil.which("fluidsynth"):
        drums += [_drum(f"soundfont {name}", _soundfont_layers(key)) for name, key in _KEYS.items()]
    for name, files in _SHOTS.items():
        paths = [_ONE_SHOTS / f"{file}.flac" for file in files]
        if all(path.is_file() for path in paths):
            drums.append(_drum(f"one-shot {name}", [_read(path) for path in paths]))
    for kit in _KIT_NAMES:
        if (_KITS / kit / "drumkit.xml").is_file():
            for name, paths in _kit_instruments(kit).items():
                drums.append(_drum(f"{kit} {name}", [_read(path) for path in paths]))
    return tuple(drum for drum in drums if drum is not None)


def draw_sampled(seed: int) -> SampledDrum | None:
    """A sampled drum for a take, or None where no package is installed."""
    drums = sampled_drums()
    return drums[int(np.random.default_rng([seed, 31]).integers(len(drums)))] if drums else None
