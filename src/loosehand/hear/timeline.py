"""From time-stamped pieces of sound to one run of samples without gaps.

Recorders drop pieces, and say so only by the time stamps of those that remain. A piece that
is stamped later than the samples so far reach is preceded by silence, so that time 0 stays the
first sample and every stroke keeps its place.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

__all__ = ["GapLog", "Piece", "drop_start", "end_at", "fill_gaps", "regroup"]

Samples = NDArray[np.float32]
Item = TypeVar("Item")

LEAST_GAP_S = 0.008
"""Shorter lateness is jitter of the stamps. Chosen below the 10 ms that the shortest codec
frames in use last; not validated on recordings."""

LONGEST_GAP_S = 60.0
"""A longer jump is a broken stamp, not a pause in the sound. Chosen, not validated."""

LONGEST_SILENCE_S = 600.0
"""No more silence than this is put in altogether. Chosen, not validated."""

_SILENCE_FRAMES = 65_536
"""Silence is handed out in slices of this length, so that memory stays bounded."""


@dataclass(frozen=True)
class Piece:
    """Samples of shape (frames, channels), stamped with the frame they begin at, or None."""

    start_frame: float | None
    samples: Samples


@dataclass
class GapLog:
    """What was done to the gaps: how many were filled, with how much, how many left alone."""

    filled: int = 0
    silence_frames: int = 0
    left: int = 0


def fill_gaps(
    pieces: Iterable[Piece], *, sample_rate_hz: int, tick_frames: float, log: GapLog
) -> Iterator[Samples]:
    """Put silence where the time stamps jump ahead.

    A jump counts only if the piece after it is late too, so that one wrong stamp moves nothing.
    Slow drift of the stamps against the samples is followed, not filled.

    Parameters
    ----------
    pieces : pieces in order, all of the same number of channels
    sample_rate_hz : frames a second
    tick_frames : frames in one tick of the stamps, the coarseness they are known to
    log : filled in as the pieces go by

    Yields
    ------
    samples : float32 array, shape (frames, channels)

    Source
    ------
    Ours.
    """
    least = max(LEAST_GAP_S * sample_rate_hz, 2.5 * tick_frames)
    origin: float | None = None
    position = 0
    usual_late = 0.0
    for piece, following in _with_following(pieces):
        if piece.start_frame is not None:
            if origin is None:
                origin = piece.start_frame - position
            late = piece.start_frame - origin - position
            jump = late - usual_late
            if jump <= least:
                usual_late = late
            elif _stays_late(following, origin + position + len(piece.samples) + usual_late, jump):
                gap = _whole_pieces(jump, len(piece.samples), tick_frames)
                filled = _note_gap(gap, sample_rate_hz, log)
                yield from _silence(filled, piece.samples.shape[1])
                position += filled
                usual_late = late - filled
        yield piece.samples
        position += len(piece.samples)


def end_at(blocks: Iterable[Samples], total_frames: int | None) -> Iterator[Samples]:
    """Cut the padding that an encoder added to fill its last piece.

    Only the last block is ever shortened: a file that holds much more than it says is left whole.
    """
    position = 0
    for block, following in _with_following(blocks):
        position += len(block)
        if following is None and total_frames is not None:
            excess = position - total_frames
            if 0 < excess < len(block):
                yield block[: len(block) - excess]
                return
        yield block


def drop_start(blocks: Iterable[Samples], frames: int) -> Iterator[Samples]:
    """Leave out the first frames."""
    for block in blocks:
        if frames < len(block):
            yield block[frames:]
        frames = max(frames - len(block), 0)


def regroup(blocks: Iterable[Samples], *, least_frames: int) -> Iterator[Samples]:
    """Join small blocks into ones of at least so many frames; the last may be shorter."""
    waiting: list[Samples] = []
    frames = 0
    for block in blocks:
        waiting.append(block)
        frames += len(block)
        if frames >= least_frames:
            yield np.concatenate(waiting)
            waiting, frames = [], 0
    if frames:
        yield np.concatenate(waiting)


def _with_following(items: Iterable[Item]) -> Iterator[tuple[Item, Item | None]]:
    """Each item with the one after it."""
    iterator = iter(items)
    try:
        item = next(iterator)
    except StopIteration:
        return
    for following in iterator:
        yield item, following
        item = following
    yield item, None


def _stays_late(following: Piece | None, expected_frame: float, jump: float) -> bool:
    """Whether the piece after a jump is late as well, as far as can be told."""
    if following is None or following.start_frame is None:
        return True
    return following.start_frame - expected_frame > jump / 2


def _whole_pieces(gap_frames: float, piece_frames: int, tick_frames: float) -> int:
    """Round a gap to whole pieces where the stamps allow it, else to whole frames."""
    whole = round(gap_frames / max(piece_frames, 1)) * piece_frames
    if whole and abs(whole - gap_frames) <= 1.5 * tick_frames:
        return whole
    return round(gap_frames)


def _note_gap(gap_frames: int, sample_rate_hz: int, log: GapLog) -> int:
    """Decide how much of a gap is filled, and note it."""
    room = LONGEST_SILENCE_S * sample_rate_hz - log.silence_frames
    if gap_frames > min(LONGEST_GAP_S * sample_rate_hz, room):
        log.left += 1
        return 0
    log.filled += 1
    log.silence_frames += gap_frames
    return gap_frames


def _silence(frames: int, channels: int) -> Iterator[Samples]:
    """Silence in slices."""
    while frames > 0:
        slice_frames = min(frames, _SILENCE_FRAMES)
        yield np.zeros((slice_frames, channels), dtype=np.float32)
        frames -= slice_frames
