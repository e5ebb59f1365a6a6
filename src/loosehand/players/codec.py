"""Sound coded as phones and recorders code it, in memory."""

from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadNotation

__all__ = ["SUFFIXES", "encode"]

SoundArray = NDArray[np.float32]
_CODECS: dict[str, tuple[str, str, str]] = {
    # suffix: container, codec, form of the samples
    ".wav": ("wav", "pcm_s16le", "s16"),
    ".flac": ("flac", "flac", "s16"),
    ".m4a": ("ipod", "aac", "fltp"),
    ".mp3": ("mp3", "libmp3lame", "fltp"),
    ".opus": ("ogg", "libopus", "flt"),
    ".webm": ("webm", "libopus", "flt"),
}
SUFFIXES: tuple[str, ...] = (*_CODECS, ".ogg")
"""Kinds of file that can be made."""
_CHUNK = 1 << 16


def encode(samples: SoundArray, sample_rate_hz: int, *, suffix: str, bit_rate: int) -> bytes:
    """Encode sound.

    Parameters
    ----------
    samples : float32 array, shape (n,) or (n, 2), within [-1, 1]
    sample_rate_hz : rate of the samples and of the file (opus: 48000)
    suffix : one of SUFFIXES
    bit_rate : bits a second; ignored where nothing is thrown away

    Returns
    -------
    coded : the bytes of a whole file

    Raises
    ------
    BadNotation    if there is no such kind of file
    """
    import av

    if suffix == ".ogg":
        return _encode_vorbis(samples, sample_rate_hz, bit_rate=bit_rate)
    if suffix not in _CODECS:
        raise BadNotation(f"suffix = {suffix!r}: want one of {', '.join(SUFFIXES)}")
    container_name, codec, form = _CODECS[suffix]
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    store = BytesIO()
    with av.open(store, "w", format=container_name) as container:
        stream: Any = container.add_stream(codec, rate=sample_rate_hz)
        stream.layout = "mono" if channels == 1 else "stereo"
        stream.format = form
        if codec not in ("pcm_s16le", "flac"):
            stream.bit_rate = bit_rate
        for frame in _frames(samples.reshape(-1, channels), sample_rate_hz, form, stream.layout):
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return store.getvalue()


def _encode_vorbis(samples: SoundArray, sample_rate_hz: int, *, bit_rate: int) -> bytes:
    """Encode Ogg Vorbis, by the quality that comes near the bit rate.

    The quality scale is from memory: 32 to 250 kbit/s for one channel at 44.1 kHz.
    """
    import soundfile

    channels = 1 if samples.ndim == 1 else samples.shape[1]
    rate = bit_rate / channels * 44100 / sample_rate_hz
    quality = float(np.interp(rate, (32e3, 56e3, 80e3, 250e3), (0.0, 0.3, 0.5, 1.0)))
    store = BytesIO()
    with soundfile.SoundFile(
        store,
        "w",
        samplerate=sample_rate_hz,
        channels=channels,
        format="OGG",
        subtype="VORBIS",
        compression_level=1.0 - quality,
    ) as file:
        for first in range(0, samples.shape[0], _CHUNK):
            file.write(samples[first : first + _CHUNK])
    return store.getvalue()


def _frames(samples: SoundArray, sample_rate_hz: int, form: str, layout: Any) -> Any:
    """Frames of the form that a codec takes, stamped by their first sample."""
    from fractions import Fraction

    import av

    for first in range(0, samples.shape[0], _CHUNK):
        part = samples[first : first + _CHUNK]
        data: Any = part
        if form == "s16":
            data = np.round(part * 32767.0).astype(np.int16)
        data = data.T if form.endswith("p") else data.reshape(1, -1)
        frame = av.AudioFrame.from_ndarray(
            np.ascontiguousarray(data), format=form, layout=layout.name
        )
        frame.sample_rate = sample_rate_hz
        frame.time_base = Fraction(1, sample_rate_hz)
        frame.pts = first
        yield frame
