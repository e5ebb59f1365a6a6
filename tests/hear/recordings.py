"""Recordings made for the tests: clicks at known places, in every format that can be written."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

CLICK_S = (0.05, 0.5, 1.1, 1.93, 2.8)


def click_train(sample_rate_hz: int, *, duration_s: float = 3.0) -> Samples:
    """Short bursts at ``CLICK_S`` over a little noise (seed 1), shape (n,)."""
    noise = np.random.default_rng(1).normal(0.0, 1e-4, round(sample_rate_hz * duration_s))
    since_s = np.arange(round(0.03 * sample_rate_hz)) / sample_rate_hz
    burst = 0.6 * np.sin(2.0 * np.pi * 1500.0 * since_s) * np.exp(-since_s / 0.004)
    for click_s in CLICK_S:
        start = round(click_s * sample_rate_hz)
        noise[start : start + burst.size] += burst
    return noise.astype(np.float32)


def encode(
    path: Path,
    samples: Samples,
    *,
    sample_rate_hz: int,
    container: str,
    codec: str,
    codec_options: dict[str, str] | None = None,
    container_options: dict[str, str] | None = None,
    drop_packets: range = range(0),
) -> Path:
    """Write samples, shape (n,) or (n, channels), with the decoder library's own encoders.

    ``drop_packets`` are packets left out, as a recorder that loses some would.
    """
    import av

    wide = samples.reshape(len(samples), -1)
    layout = {1: "mono", 2: "stereo", 6: "5.1", 8: "7.1"}[wide.shape[1]]
    with av.open(str(path), "w", format=container, options=container_options or {}) as output:
        stream = output.add_stream(
            codec, rate=sample_rate_hz, layout=layout, options=codec_options or {}
        )
        packets = []
        for start in range(0, len(wide), 1024):
            part = np.ascontiguousarray(wide[start : start + 1024]).reshape(1, -1)
            frame = av.AudioFrame.from_ndarray(part, format="flt", layout=layout)
            frame.sample_rate = sample_rate_hz
            frame.pts = start
            packets.extend(stream.encode(frame))
        packets.extend(stream.encode(None))
        for number, packet in enumerate(packets):
            if number not in drop_packets:
                output.mux(packet)
    return path


def lag_frames(written: Samples, read: NDArray[np.floating]) -> int:
    """Frames by which what was read is later than what was written, by cross-correlation."""
    size = 1 << (written.size + read.size - 1).bit_length()
    product = np.fft.rfft(read, size) * np.conj(np.fft.rfft(written, size))
    peak = int(np.argmax(np.fft.irfft(product, size)))
    return peak - size if peak > size // 2 else peak
