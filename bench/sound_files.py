"""Write and read sound files as phones and recorders make them.

Reading here is apart from ``loosehand.hear.decode``, for peers and for checks of the bench.
"""

import io

import numpy as np
from numpy.typing import NDArray

__all__ = ["FORMATS", "decode", "encode"]

# .ogg with Vorbis is written by libsndfile; the others by FFmpeg's libraries.
# suffix: container, codec, rate the codec insists on (or 0), whether it takes a bit rate
FORMATS: dict[str, tuple[str, str, int, bool]] = {
    ".m4a": ("ipod", "aac", 0, True),
    ".mp4": ("mp4", "aac", 0, True),
    ".mov": ("mov", "aac", 0, True),
    ".mp3": ("mp3", "libmp3lame", 0, True),
    ".opus": ("ogg", "libopus", 48000, True),
    ".webm": ("webm", "libopus", 48000, True),
    ".flac": ("flac", "flac", 0, False),
    ".wav": ("wav", "pcm_s16le", 0, False),
}


def encode(samples: NDArray[np.float64], *, rate_hz: int, suffix: str, bit_rate: int) -> bytes:
    """Bytes of a file.

    Parameters
    ----------
    samples : float array, shape (channels, n), in [-1, 1]
    rate_hz : the rate of the samples; it must be 48000 for opus
    suffix : one of ``FORMATS``, or .ogg
    bit_rate : bits a second, ignored by formats that keep every sample
    """
    import av

    if suffix == ".ogg":
        return _vorbis(samples, rate_hz)
    container_name, codec, only_rate_hz, has_rate = FORMATS[suffix]
    if only_rate_hz and rate_hz != only_rate_hz:
        raise ValueError(f"rate_hz = {rate_hz}, {suffix} takes {only_rate_hz} only")
    layout = "mono" if samples.shape[0] == 1 else "stereo"
    sink = io.BytesIO()
    ints = np.round(np.clip(samples, -1.0, 1.0) * 32767.0).astype(np.int16)
    with av.open(sink, "w", format=container_name) as container:
        stream = container.add_stream(codec, rate=rate_hz, layout=layout)
        if has_rate:
            stream.bit_rate = bit_rate
        packed = np.ascontiguousarray(ints.T.reshape(1, -1))
        frame = av.AudioFrame.from_ndarray(packed, format="s16", layout=layout)
        frame.sample_rate = rate_hz
        frame.pts = 0
        resampler = av.AudioResampler(
            format=stream.format.name,
            layout=layout,
            rate=rate_hz,
            frame_size=stream.codec_context.frame_size or 4096,
        )
        for piece in [*resampler.resample(frame), *resampler.resample(None)]:
            container.mux(stream.encode(piece))
        container.mux(stream.encode(None))
    return sink.getvalue()


def _vorbis(samples: NDArray[np.float64], rate_hz: int) -> bytes:
    """Ogg Vorbis, written in pieces: one long write overruns the encoder's stack."""
    import soundfile

    sink = io.BytesIO()
    with soundfile.SoundFile(
        sink, "w", rate_hz, samples.shape[0], format="OGG", subtype="VORBIS"
    ) as file:
        for start in range(0, samples.shape[1], 16384):
            file.write(samples[:, start : start + 16384].T)
    return sink.getvalue()


def decode(data: bytes) -> tuple[NDArray[np.float32], int]:
    """One channel of samples (the mean of all) and their rate; priming removed."""
    import av

    pieces = []
    with av.open(io.BytesIO(data)) as container:
        stream = container.streams.audio[0]
        resampler = av.AudioResampler(format="fltp", layout=stream.layout, rate=stream.rate)
        for frame in container.decode(stream):
            pieces += [piece.to_ndarray() for piece in resampler.resample(frame)]
        pieces += [piece.to_ndarray() for piece in resampler.resample(None)]
        rate_hz = int(stream.rate)
    return np.concatenate(pieces, axis=1).mean(axis=0), rate_hz
