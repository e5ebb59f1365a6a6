"""The decoder library, wrapped: an open file in, time-stamped pieces of samples out.

What the library prints, raises or assumes goes no further than this module.
"""

from collections.abc import Generator, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import UnreadableAudio
from loosehand.hear.headers import lacks_mp4_index
from loosehand.hear.timeline import Piece

if TYPE_CHECKING:
    from av import AudioFrame, AudioResampler, AudioStream, Packet
    from av.container import InputContainer

__all__ = ["Decoder"]

Samples = NDArray[np.float32]
Faults = tuple[type[BaseException], ...]

MP3_DECODER_DELAY = 529
"""Frames that every MPEG layer III decoder is late: 528 and one. From memory of the notes that
come with the commonest encoder; the sum with the next figure is measured in the tests."""

MP3_ENCODER_DELAY = 576
"""Frames that the commonest encoder is late, taken where a file does not say. Source as above."""

LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 4_000, 768_000
"""Rates outside these are no recording of strokes. Chosen."""

MOST_DAMAGED = 20
"""So many undecodable packets, and more of them than decoded ones: the file is no sound. Chosen."""

_FORMATS = "aac,aiff,amr,asf,au,avi,caf,flac,matroska,webm,mov,mp4,mp3,mpegts,ogg,w64,wav,wv"
"""Formats that are tried. None of them can point at another file or at the network."""

MOST_CHANNELS = 64
"""More channels than any recorder has are a broken header. Chosen."""

_LEAST_PLANES_MISCOUNTED = 8
_HEADER_TELLS_LENGTH = ("mov", "flac", "aiff", "caf", "w64", "au")
_PROTECTED_TAGS = ("enca", "drms")


class Decoder:
    """One sound track of an open file.

    Attributes
    ----------
    sample_rate_hz, channels : of the first piece that could be decoded
    container, codec : names of the format and of the coding
    tracks : sound tracks in the file
    tick_frames : frames in one tick of the time stamps
    announced_s : seconds that the header announces, or None where it does not say
    total_frames : frames that the header announces, where it is exact, or None
    priming_frames : frames to leave out at the start, beyond those the library left out
    priming_assumed : sentence about them, or None where the file itself declared its priming
    damaged_within : packets that could not be decoded, with sound after them
    ends_damaged : whether the last packet was one of them, or the file could not be read on
    left_out : pieces left out since their sample rate is another
    """

    def __init__(self, file: BinaryIO, name: str) -> None:
        """Open the file, and decode up to the first piece of sound.

        Raises
        ------
        UnreadableAudio    if it is not sound, is encrypted, or nothing in it can be decoded
        """
        self.damaged_within = 0
        self.ends_damaged = False
        self.left_out = 0
        self._decoded = 0
        self._damaged = 0
        self._declared_skip: int | None = None
        self._name = name
        self._faults = _faults()
        self._source = _Source(file)
        self._packer = _Packer()
        self._container = _open_container(self._source, file, name, self._faults)
        try:
            self._stream = _sound_stream(self._container, name)
            self._frames = self._decode_all()
            first = next(self._frames, None)
            if first is None:
                raise UnreadableAudio(f"{name}: nothing in it can be decoded as sound.")
            self._describe(first)
        except self._faults as fault:
            self._container.close()
            raise UnreadableAudio(f"{name}: it is too damaged to be decoded.") from fault
        except BaseException:
            self._container.close()
            raise

    def close(self) -> None:
        """Let go of the decoder; the file stays open."""
        self._frames.close()
        self._container.close()

    def pieces(self) -> Iterator[Piece]:
        """Hand out all pieces of sound, once, in the rate and channels of the first.

        Raises
        ------
        UnreadableAudio    if more packets turn out damaged than sound
        """
        for frame in chain((self._first,), self._frames):
            if frame.sample_rate_hz != self.sample_rate_hz:
                self.left_out += 1
                continue
            start = None if frame.start_s is None else float(frame.start_s * self.sample_rate_hz)
            yield Piece(start, _with_channels(frame.samples, self.channels))

    def _describe(self, first: "_Decoded") -> None:
        """Take down what the container and the first frame say."""
        stream = self._stream
        self._first = first
        self.sample_rate_hz = first.sample_rate_hz
        if not LOWEST_RATE_HZ <= self.sample_rate_hz <= HIGHEST_RATE_HZ:
            raise UnreadableAudio(
                f"{self._name}: its sample rate is {self.sample_rate_hz} Hz; "
                f"wanted {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ}."
            )
        self.channels = first.samples.shape[1]
        if self.channels > MOST_CHANNELS:
            raise UnreadableAudio(
                f"{self._name}: it has {self.channels} channels; wanted no more than "
                f"{MOST_CHANNELS}."
            )
        self.container = self._container.format.name
        self.codec = stream.codec_context.codec.name
        self.tracks = len(self._container.streams.audio)
        tick_s = stream.time_base
        self.tick_frames = float(tick_s * self.sample_rate_hz) if tick_s else 0.0
        self.announced_s = self._announced_s()
        exact = tick_s is not None and tick_s * self.sample_rate_hz == 1
        self.total_frames = stream.duration if exact and self.container.startswith("mov") else None
        self.priming_frames, self.priming_assumed = _priming(
            self.codec, self._declared_skip, len(first.samples), self.sample_rate_hz
        )

    def _announced_s(self) -> float | None:
        """Seconds that the header announces, or None where it does not say."""
        stream, container = self._stream, self._container
        if "matroska" in self.container:
            return container.duration / 1e6 if container.duration else None
        told = self.container.split(",")[0] in _HEADER_TELLS_LENGTH or (
            self.container == "mp3" and self._declared_skip is not None
        )
        if not told or not stream.duration or stream.time_base is None:
            return None
        return float(stream.duration * stream.time_base)

    def _decode_all(self) -> "Generator[_Decoded, None, None]":
        """Decode the track to its end, or to where it cannot be read further."""
        packets = self._container.demux(self._stream)
        untouched = True
        while True:
            try:
                packet = next(packets, None)
            except self._faults:
                self._count_damaged()
                return
            if packet is None:
                self.ends_damaged |= self._source.failed
                return
            if untouched:
                self._inspect(packet)
                untouched = False
            yield from self._decode(packet)

    def _decode(self, packet: "Packet[AudioStream]") -> "list[_Decoded]":
        """Decode one packet; none if it is damaged."""
        try:
            frames = [
                _decoded(readable)
                for frame in packet.decode()
                for readable in self._packer.readable(frame)
            ]
        except self._faults:
            if packet.size:
                self._count_damaged()
            return []
        if packet.size:
            self._decoded += 1
            self.damaged_within = self._damaged
            self.ends_damaged = False
        return frames

    def _inspect(self, packet: "Packet[AudioStream]") -> None:
        """Learn from the first packet whether it is encrypted, and what priming is declared."""
        protected = _codec_tag(self._stream) in _PROTECTED_TAGS
        if protected or packet.has_sidedata("encryption_info"):
            raise UnreadableAudio(
                f"{self._name}: it is encrypted; export the recording without protection."
            )
        if packet.has_sidedata("skip_samples"):
            skip = bytes(packet.get_sidedata("skip_samples"))[:4]
            self._declared_skip = int.from_bytes(skip, "little")
        elif packet.is_discard:
            self._declared_skip = 0

    def _count_damaged(self) -> None:
        """Count a damaged packet, and give up where most are."""
        self._damaged += 1
        self.ends_damaged = True
        if self._damaged >= MOST_DAMAGED and self._damaged > self._decoded:
            raise UnreadableAudio(f"{self._name}: most of it cannot be decoded as sound.")


@dataclass(frozen=True)
class _Decoded:
    """A frame as it came: samples of shape (frames, channels), and its stamp in seconds."""

    sample_rate_hz: int
    start_s: Fraction | None
    samples: Samples


class _Packer:
    """Interleaves frames of many channels.

    The library's frames of eight planes and more claim planes that are not there, and reading
    those ends the process. Interleaved frames have one plane only.
    """

    def __init__(self) -> None:
        self._kind: tuple[object, ...] = ()
        self._resampler: AudioResampler | None = None

    def readable(self, frame: "AudioFrame") -> "list[AudioFrame]":
        """Give the frame in a form whose planes can be read; nothing for an empty one."""
        import av

        if frame.samples == 0 or not frame.format.is_planar:
            return [frame] if frame.samples else []
        if frame.layout.nb_channels < _LEAST_PLANES_MISCOUNTED:
            return [frame]
        kind = (frame.format.name, frame.layout.name, frame.sample_rate)
        if self._resampler is None or kind != self._kind:
            self._kind = kind
            self._resampler = av.AudioResampler(
                format=frame.format.packed, layout=frame.layout, rate=frame.sample_rate
            )
        return self._resampler.resample(frame)


def _faults() -> Faults:
    """Name what the library raises on a bad file: its own errors and those of its arithmetic."""
    import av

    return (
        av.FFmpegError,
        ArithmeticError,
        LookupError,
        MemoryError,
        OSError,
        RuntimeError,
        TypeError,
        ValueError,
    )


def _open_container(
    source: "_Source", file: BinaryIO, name: str, faults: Faults
) -> "InputContainer":
    """Open a file by its content alone."""
    import av
    import av.logging

    av.logging.set_level(None)
    file.seek(0)
    try:
        return av.open(
            source,
            mode="r",
            options={"format_whitelist": _FORMATS, "protocol_whitelist": "file"},
            metadata_errors="replace",
        )
    except faults as fault:
        if lacks_mp4_index(file):
            raise UnreadableAudio(
                f"{name}: the recording was cut off before its index was written, "
                "so its sound cannot be found."
            ) from fault
        raise UnreadableAudio(f"{name}: it is not a sound file that can be read.") from fault


class _Source:
    """An open file as the library sees it: without its name, and never raising.

    Without its name, so that a wrong extension misleads nobody; never raising, since the library
    would print what it cannot pass on. ``failed`` tells whether the file could not be read.
    """

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self.failed = False
        self.tell = file.tell

    def read(self, size: int) -> bytes:
        """Read; the end of the file where it cannot be read."""
        try:
            return self._file.read(size)
        except OSError:
            self.failed = True
            return b""

    def seek(self, offset: int, whence: int = 0) -> int:
        """Seek; -1, the library's sign of failure, where a broken file points nowhere."""
        try:
            return self._file.seek(offset, whence)
        except (OSError, OverflowError, ValueError):
            return -1


def _sound_stream(container: "InputContainer", name: str) -> "AudioStream":
    """Choose the sound track: the library's choice, else the first that can be decoded."""
    tracks = container.streams.audio
    if not tracks:
        if container.streams.video:
            raise UnreadableAudio(f"{name}: it holds a picture but no sound.")
        raise UnreadableAudio(f"{name}: it holds no sound.")
    best = container.streams.best("audio")
    ordered = sorted(tracks, key=lambda track: best is None or track.index != best.index)
    for track in ordered:
        if track.codec_context is not None:
            return track
    raise UnreadableAudio(f"{name}: its sound is coded in a way that cannot be decoded here.")


def _codec_tag(stream: "AudioStream") -> str:
    """Return the four letters by which the container names the coding, or nothing."""
    try:
        return stream.codec_context.codec_tag.lower()
    except UnicodeDecodeError:
        return ""


def _priming(
    codec: str, declared_skip: int | None, piece_frames: int, sample_rate_hz: int
) -> tuple[int, str | None]:
    """Frames of priming that the library has not left out, and the sentence that says so.

    An AAC decoder's first piece is only the overlap into the second; an encoder adds at least
    that much. An mp3 file without a gapless header is late by both delays; one whose header names
    no encoder delay had only the decoder's taken off.
    """
    frames = 0
    if codec.startswith("aac") and declared_skip is None:
        frames = piece_frames
    elif codec.startswith("mp3") and declared_skip is None:
        frames = MP3_DECODER_DELAY + MP3_ENCODER_DELAY
    elif codec.startswith("mp3") and declared_skip == MP3_DECODER_DELAY:
        frames = MP3_ENCODER_DELAY
    if frames == 0:
        return 0, None
    return frames, (
        f"The file does not declare its encoder's priming; the usual {frames} samples "
        f"({1000.0 * frames / sample_rate_hz:.1f} ms) were left out at the start."
    )


def _decoded(frame: "AudioFrame") -> _Decoded:
    """Take what is wanted out of the library's frame."""
    start_s = None
    if frame.pts is not None and frame.time_base is not None:
        start_s = Fraction(frame.pts * frame.time_base)
    return _Decoded(
        sample_rate_hz=int(frame.sample_rate),
        start_s=start_s,
        samples=_frame_samples(frame),
    )


def _frame_samples(frame: "AudioFrame") -> Samples:
    """Turn a frame into samples, shape (frames, channels), full scale 1."""
    channels = frame.layout.nb_channels
    raw: NDArray[Any]
    if frame.format.name == "s64":
        raw = np.frombuffer(bytes(frame.planes[0]), np.int64, count=frame.samples * channels)
    else:
        raw = frame.to_ndarray()
    shaped: NDArray[Any] = raw.T if frame.format.is_planar else raw.reshape(-1, channels)
    if shaped.dtype == np.uint8:
        unsigned: Samples = shaped.astype(np.float32)
        return (unsigned - np.float32(128.0)) / np.float32(128.0)
    if np.issubdtype(shaped.dtype, np.signedinteger):
        signed: Samples = shaped.astype(np.float32)
        return signed / np.float32(2.0 ** (8 * shaped.dtype.itemsize - 1))
    with np.errstate(over="ignore", invalid="ignore"):
        floating: Samples = shaped.astype(np.float32, copy=False)
    return floating


def _with_channels(samples: Samples, channels: int) -> Samples:
    """Bring samples to a number of channels: the mean of what there is, in each."""
    if samples.shape[1] == channels:
        return samples
    return np.repeat(samples.mean(axis=1, keepdims=True, dtype=np.float32), channels, axis=1)
