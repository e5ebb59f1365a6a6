"""Files in: whatever a phone or recorder makes, as blocks of samples from time 0 on.

This is the one module of the ear that opens files. Time 0 is the first sample after the
decoder's priming: edit lists and gapless headers are honoured, and where a file has none the
usual priming of its codec is left out, and said to be assumed. A file is read as a stream, so
that hours of sound need no more memory than a minute.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from os import PathLike
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import InputError, UnreadableAudio
from loosehand.hear.codec import Decoder
from loosehand.hear.headers import announced_wav_s, lacks_ogg_end
from loosehand.hear.midi_file import LONGEST_MIDI_BYTES, MidiFile, is_midi, parse_midi
from loosehand.hear.mixdown import mono_blocks
from loosehand.hear.timeline import GapLog, drop_start, end_at, fill_gaps, regroup

__all__ = ["Sound", "SoundFile", "open_sound", "read_midi", "read_mono", "sniff"]

Samples = NDArray[np.float32]
FilePath = str | PathLike[str]

BLOCK_FRAMES = 65_536
"""Least length of the blocks handed out."""

LOOK_S = 10.0
"""How much sound is looked at before channels are mixed. Chosen, not validated."""

HIGHEST_SAMPLE = 16.0
"""Samples more than 24 dB above full scale are damage, not sound. Chosen."""

SHORTFALL_S = 0.1
"""A file that holds less than it announces, by more than this, was cut off. Chosen."""


@dataclass(frozen=True)
class Sound:
    """A whole recording in one channel.

    Attributes
    ----------
    samples : float32 array, shape (n,), full scale 1
    sample_rate_hz : frames a second
    channels : channels of the file
    container, codec : names of the file's format and of its coding
    notes : sentences about what could not be read
    assumed : sentences about what was assumed
    """

    samples: Samples
    sample_rate_hz: int
    channels: int
    container: str
    codec: str
    notes: tuple[str, ...]
    assumed: tuple[str, ...]


def sniff(path: FilePath) -> Literal["sound", "midi"]:
    """Tell MIDI from what may be sound by a file's first bytes, never by its name.

    Raises
    ------
    InputError         if there is no such file, or it may not be read
    UnreadableAudio    if it is empty
    """
    with _open_file(path) as file:
        return "midi" if is_midi(file.read(12)) else "sound"


def read_midi(path: FilePath) -> MidiFile:
    """Read a Standard MIDI File.

    Raises
    ------
    InputError         if there is no such file, or it may not be read
    UnreadableAudio    if it is empty
    UnsupportedMidi    if it is not a MIDI file of format 0 or 1
    """
    with _open_file(path) as file:
        return parse_midi(file.read(LONGEST_MIDI_BYTES + 1))


def open_sound(path: FilePath) -> "SoundFile":
    """Open a recording, to be read block by block.

    Parameters
    ----------
    path : the file; its name does not matter

    Returns
    -------
    sound : SoundFile, to be closed, or used with ``with``

    Raises
    ------
    InputError         if there is no such file, or it may not be read
    UnreadableAudio    if it is empty, not sound, encrypted, or nothing in it can be decoded
    """
    file = _open_file(path)
    try:
        return SoundFile(file, Path(path).name)
    except BaseException:
        file.close()
        raise


def read_mono(path: FilePath, *, longest_s: float) -> Sound:
    """Read a recording whole, mixed into one channel.

    Parameters
    ----------
    path : the file
    longest_s : seconds after which reading stops, with a note

    Raises
    ------
    InputError, UnreadableAudio    as ``open_sound``
    """
    with open_sound(path) as file:
        longest = round(longest_s * file.sample_rate_hz)
        blocks: list[Samples] = []
        frames = 0
        stopped: tuple[str, ...] = ()
        for block in file.mono_blocks():
            blocks.append(block[: longest - frames])
            frames += len(block)
            if frames > longest:
                stopped = (f"The recording was read up to {longest_s:g} s only.",)
                break
        return Sound(
            samples=np.concatenate(blocks) if blocks else np.zeros(0, dtype=np.float32),
            sample_rate_hz=file.sample_rate_hz,
            channels=file.channels,
            container=file.container,
            codec=file.codec,
            notes=file.notes + stopped,
            assumed=file.assumed,
        )


class SoundFile:
    """An open recording. Made by ``open_sound``; its sound can be handed out once.

    Attributes
    ----------
    sample_rate_hz : frames a second, the file's own
    channels : channels of the file
    container, codec : names of the file's format and of its coding
    announced_s : seconds that its header announces, or None where it does not say
    frames_read : frames handed out so far
    """

    def __init__(self, file: BinaryIO, name: str) -> None:
        """Take an open file."""
        self._lacks_end = lacks_ogg_end(file)
        announced_wav = announced_wav_s(file)
        self._file = file
        self._decoder = Decoder(file, name)
        self._gaps = GapLog()
        self._turned: list[int] = []
        self._not_numbers = 0
        self._ended = False
        self.sample_rate_hz = self._decoder.sample_rate_hz
        self.channels = self._decoder.channels
        self.container = self._decoder.container
        self.codec = self._decoder.codec
        self.announced_s = announced_wav or self._decoder.announced_s
        self.frames_read = 0

    def __enter__(self) -> "SoundFile":
        """Use as a context."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the file."""
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._decoder.close()
        self._file.close()

    def blocks(self) -> Iterator[Samples]:
        """Hand out all samples, once.

        Yields
        ------
        block : float32 array, shape (frames, channels), full scale 1

        Raises
        ------
        UnreadableAudio    if more of the file turns out damaged than sound
        """
        decoder = self._decoder
        samples = fill_gaps(
            decoder.pieces(),
            sample_rate_hz=self.sample_rate_hz,
            tick_frames=decoder.tick_frames,
            log=self._gaps,
        )
        samples = drop_start(end_at(samples, decoder.total_frames), decoder.priming_frames)
        for block in regroup(samples, least_frames=BLOCK_FRAMES):
            self.frames_read += len(block)
            yield self._without_damage(block)
        self._ended = True

    def mono_blocks(self) -> Iterator[Samples]:
        """Hand out all samples, once, mixed into one channel.

        Yields
        ------
        block : float32 array, shape (frames,), full scale 1

        Raises
        ------
        UnreadableAudio    if more of the file turns out damaged than sound
        """
        look_frames = round(LOOK_S * self.sample_rate_hz) if self.channels > 1 else 1
        return mono_blocks(self.blocks(), look_frames=look_frames, turned=self._turned)

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences about what could not be read; complete when all blocks have gone by."""
        decoder, gaps, rate = self._decoder, self._gaps, self.sample_rate_hz
        said = (
            (self._is_cut_off(), self._cut_off_sentence()),
            (
                decoder.damaged_within > 0,
                f"Parts that could not be decoded: {decoder.damaged_within}.",
            ),
            (
                gaps.filled > 0,
                f"Gaps in the time stamps, filled with silence: {gaps.filled}, "
                f"{gaps.silence_frames / rate:.3f} s in all.",
            ),
            (
                gaps.left > 0,
                f"Jumps in the time stamps, too long to be believed and passed over: {gaps.left}.",
            ),
            (
                decoder.left_out > 0,
                f"The sample rate changes within the recording; pieces left out since they are "
                f"not at {rate} Hz: {decoder.left_out}.",
            ),
            (
                self._not_numbers > 0,
                f"Samples that no sound can have, taken as silence: {self._not_numbers}.",
            ),
        )
        return tuple(sentence for holds, sentence in said if holds)

    @property
    def assumed(self) -> tuple[str, ...]:
        """Sentences about what was assumed; complete when all blocks have gone by."""
        decoder = self._decoder
        sentences = [decoder.priming_assumed] if decoder.priming_assumed else []
        if decoder.tracks > 1:
            sentences.append(f"The file holds {decoder.tracks} sound tracks; one was taken.")
        if self._turned:
            numbers = ", ".join(str(channel) for channel in self._turned)
            sentences.append(
                f"Channels turned over before mixing, since they are in opposite phase to the "
                f"loudest of {self.channels}: {numbers}."
            )
        return tuple(sentences)

    def _without_damage(self, block: Samples) -> Samples:
        """Put 0 for what is no sample of sound."""
        if float(block.max()) <= HIGHEST_SAMPLE and float(block.min()) >= -HIGHEST_SAMPLE:
            return block
        sound = np.abs(block) <= HIGHEST_SAMPLE
        self._not_numbers += int(block.size - np.count_nonzero(sound))
        return np.where(sound, block, np.float32(0.0))

    def _is_cut_off(self) -> bool:
        """Whether the file ended before it should."""
        if not self._ended:
            return False
        if self.announced_s is not None:
            return self.frames_read / self.sample_rate_hz < self.announced_s - SHORTFALL_S
        return self._lacks_end or self._decoder.ends_damaged

    def _cut_off_sentence(self) -> str:
        """Say that the recording is cut off, and by how much if that is known."""
        held = f"{self.frames_read / self.sample_rate_hz:.2f} s"
        if self.announced_s is None:
            return f"The recording has no proper end and may be cut off: it holds {held}."
        return f"The recording is cut off: it announces {self.announced_s:.2f} s and holds {held}."


def _open_file(path: FilePath) -> BinaryIO:
    """Open a file for reading, or say in a sentence why not."""
    try:
        place = Path(path)
        refusal = _refusal(place)
        if refusal is not None:
            raise InputError(f"{place}: {refusal}")
        file = place.open("rb")
    except InputError:
        raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not one a file can have"
        raise InputError(f"{path!s}: it cannot be opened ({reason}).") from error
    if file.seek(0, 2) == 0:
        file.close()
        raise UnreadableAudio(f"{place.name}: the file is empty.")
    file.seek(0)
    return file


def _refusal(place: Path) -> str | None:
    """Why a path is no file to be read, or None."""
    if place.is_dir():
        return "it is a folder; name one recording in it."
    if not place.exists():
        return "there is no such file."
    if not place.is_file():
        return "it is not an ordinary file."
    return None
