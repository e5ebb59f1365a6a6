"""General-purpose onset detectors, each tuned on takes that the bench never scores.

A detector is a function of its detection curve (made once a take and curve) and settings tried
on a small grid; the settings with the best mean F at 10 ms over the tuning takes are kept.
Missing libraries are left out and named.
"""

import importlib.util
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

__all__ = ["PEERS", "Peer", "at_peer_rate", "available", "hear_with", "scores", "tune", "warm_up"]

FloatArray = NDArray[np.float64]
RATE_HZ = 44100


@dataclass(frozen=True)
class Peer:
    """A detector: its library, curves to be made, and the picking settings to be tried."""

    name: str
    library: str
    curves: tuple[dict, ...]
    picks: tuple[dict, ...]
    curve: Callable[[FloatArray, dict], object]
    pick: Callable[[object, dict, dict], FloatArray]


def _grid(**choices: tuple) -> tuple[dict, ...]:
    return tuple(dict(zip(choices, row, strict=True)) for row in product(*choices.values()))


def _librosa_curve(sound: FloatArray, setting: dict) -> FloatArray:
    import librosa

    return librosa.onset.onset_strength(
        y=sound.astype(np.float32),
        sr=RATE_HZ,
        hop_length=setting["hop"],
        n_fft=setting["window"],
        lag=setting["lag"],
        max_size=setting["max_size"],
    )


def _librosa_pick(curve: FloatArray, setting: dict, pick: dict) -> FloatArray:
    import librosa

    frame_s = setting["hop"] / RATE_HZ
    frames = librosa.onset.onset_detect(
        onset_envelope=curve,
        sr=RATE_HZ,
        hop_length=setting["hop"],
        units="frames",
        delta=pick["delta"],
        wait=round(pick["wait_s"] / frame_s),
        pre_max=round(pick["max_s"] / frame_s),
        post_max=round(pick["max_s"] / frame_s) + 1,
        pre_avg=round(0.1 / frame_s),
        post_avg=round(0.1 / frame_s) + 1,
    )
    return np.asarray(frames) * frame_s


def _aubio_curve(sound: FloatArray, setting: dict) -> FloatArray:
    return sound.astype(np.float32)


def _aubio_pick(sound: FloatArray, setting: dict, pick: dict) -> FloatArray:
    import aubio

    hop = setting["hop"]
    detector = aubio.onset(setting["method"], setting["window"], hop, RATE_HZ)
    detector.set_threshold(pick["threshold"])
    detector.set_minioi_s(pick["wait_s"])
    detector.set_silence(pick["silence_db"])
    found = []
    for start in range(0, sound.size - hop + 1, hop):
        if detector(sound[start : start + hop])[0]:
            found.append(detector.get_last_s())
    return np.array(found)


def _essentia_curve(sound: FloatArray, setting: dict) -> FloatArray:
    import essentia
    import essentia.standard as ess

    essentia.log.infoActive = essentia.log.warningActive = False
    window, spectrum = ess.Windowing(type="hann"), ess.FFT()
    polar = ess.CartesianToPolar()
    detection = ess.OnsetDetection(method=setting["method"], sampleRate=RATE_HZ)
    frames = ess.FrameGenerator(
        sound.astype(np.float32), frameSize=setting["window"], hopSize=setting["hop"]
    )
    curve = []
    for frame in frames:
        magnitude, phase = polar(spectrum(window(frame)))
        curve.append(detection(magnitude, phase))
    return np.array(curve, dtype=np.float32)


def _essentia_pick(curve: FloatArray, setting: dict, pick: dict) -> FloatArray:
    import essentia.standard as ess

    onsets = ess.Onsets(
        alpha=pick["alpha"],
        delay=pick["delay"],
        silenceThreshold=pick["silence"],
        frameRate=RATE_HZ / setting["hop"],
    )
    return np.asarray(onsets(curve[None, :], [1.0]), dtype=float)


PEERS: dict[str, Peer] = {
    "librosa": Peer(
        "librosa",
        "librosa",
        _grid(hop=(128, 256), window=(1024,), lag=(1, 2), max_size=(1, 3)),
        _grid(delta=(0.02, 0.04, 0.07, 0.12), wait_s=(0.02, 0.04), max_s=(0.02, 0.03)),
        _librosa_curve,
        _librosa_pick,
    ),
    "aubio": Peer(
        "aubio",
        "aubio",
        _grid(method=("hfc", "complex", "specflux", "energy"), window=(512, 1024), hop=(128,)),
        _grid(threshold=(0.1, 0.3, 0.6), wait_s=(0.03, 0.05), silence_db=(-60.0, -40.0)),
        _aubio_curve,
        _aubio_pick,
    ),
    "essentia": Peer(
        "essentia",
        "essentia",
        _grid(method=("hfc", "complex", "flux", "melflux"), window=(1024,), hop=(256, 512)),
        _grid(alpha=(0.05, 0.1, 0.2, 0.4), delay=(3, 5, 10), silence=(0.01, 0.02, 0.05)),
        _essentia_curve,
        _essentia_pick,
    ),
}


def available() -> list[str]:
    """Names of the peers whose library is installed."""
    return [name for name, peer in PEERS.items() if importlib.util.find_spec(peer.library)]


def at_peer_rate(sound: NDArray[np.float32], rate_hz: int) -> NDArray[np.float32]:
    """Resample for the peers and bring the peak to 0.9."""
    import soxr

    if rate_hz != RATE_HZ:
        sound = soxr.resample(sound, rate_hz, RATE_HZ)
    return (sound * (0.9 / max(float(np.max(np.abs(sound))), 1e-9))).astype(np.float32)


def hear_with(name: str, sound: NDArray[np.float32], settings: dict) -> FloatArray:
    """Onset times of a sound at the peers' rate."""
    peer = PEERS[name]
    curve = peer.curve(sound, settings["curve"])
    return np.unique(np.asarray(peer.pick(curve, settings["curve"], settings["pick"]), float))


def warm_up(names: list[str]) -> None:
    """Hear a second of noise with each peer, so that what must be compiled is."""
    sound = np.random.default_rng(0).standard_normal(RATE_HZ).astype(np.float32)
    for name in names:
        peer = PEERS[name]
        hear_with(name, sound, {"curve": peer.curves[0], "pick": peer.picks[0]})


def _tries(peer: Peer, sound: NDArray[np.float32]) -> Iterator[tuple[int, int, FloatArray]]:
    for at, setting in enumerate(peer.curves):
        curve = peer.curve(sound, setting)
        for pick_at, pick in enumerate(peer.picks):
            yield at, pick_at, np.unique(np.asarray(peer.pick(curve, setting, pick), float))


def scores(
    name: str, sound: NDArray[np.float32], score: Callable[[FloatArray], float]
) -> FloatArray:
    """Score of every setting on one sound, shape (curves, picks)."""
    peer = PEERS[name]
    table = np.zeros((len(peer.curves), len(peer.picks)))
    for at, pick_at, onset_s in _tries(peer, sound):
        table[at, pick_at] = score(onset_s)
    return table


def tune(name: str, tables: list[FloatArray]) -> dict:
    """Settings with the best mean score over the tuning takes, that score, and takes used."""
    peer = PEERS[name]
    mean = np.mean(tables, axis=0)
    at, pick_at = np.unravel_index(int(np.argmax(mean)), mean.shape)
    return {
        "curve": peer.curves[at],
        "pick": peer.picks[pick_at],
        "tuning_f10": float(mean[at, pick_at]),
        "tuning_takes": len(tables),
        "settings_tried": int(mean.size),
    }
