"""From stamped blocks to sound without a gap: what is sent twice is taken once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.web.live.wire import SoundBlock

__all__ = ["Capture", "Recent"]

Int32Array = NDArray[np.int32]
_MOST_SILENT_FRAMES = 1 << 20


@dataclass
class Capture:
    """Sound from a frame on.

    Attributes
    ----------
    first_frame : from here on
    next_frame : the frame that comes next
    lost_frames : frames that never came; silence stands for them
    repeated_frames : frames that came again
    longest_gap : most frames lost at once
    """

    first_frame: int
    next_frame: int
    lost_frames: int = 0
    repeated_frames: int = 0
    longest_gap: int = 0

    def push(self, block: SoundBlock) -> Int32Array:
        """Take a block and return what it adds: silence for frames lost before it, then its own.

        A block that was taken before adds nothing. Silence stands for no more than some seconds:
        where more was lost the sound is of no use, and would only fill memory and disk.
        """
        gap = block.frame - self.next_frame
        if gap < 0:
            again = min(-gap, block.samples.size)
            # What came before the first frame is left out, but came once.
            early = min(max(self.first_frame - block.frame, 0), again)
            self.repeated_frames += again - early
            added = block.samples[again:]
        elif gap > 0:
            self.lost_frames += gap
            self.longest_gap = max(self.longest_gap, gap)
            silence = np.zeros(min(gap, _MOST_SILENT_FRAMES), dtype=np.int32)
            added = np.concatenate((silence, block.samples))
        else:
            added = block.samples
        self.next_frame = max(self.next_frame, block.frame + block.samples.size)
        return added


class Recent:
    """The last moments of sound, so that a round can begin a little before it was known to.

    Parameters
    ----------
    kept_frames : how much is kept
    """

    def __init__(self, kept_frames: int) -> None:
        self._kept = kept_frames
        self._blocks: list[SoundBlock] = []
        self._size = 0

    def push(self, block: SoundBlock) -> None:
        """Keep a block; forget what is too old."""
        self._blocks.append(block)
        self._size += block.samples.size
        while self._size - self._blocks[0].samples.size >= self._kept:
            self._size -= self._blocks.pop(0).samples.size

    def since(self, frame: int) -> list[SoundBlock]:
        """Blocks that hold anything from a frame on, in order, cut to it."""
        kept = []
        for block in self._blocks:
            early = frame - block.frame
            if early < block.samples.size:
                early = max(early, 0)
                kept.append(SoundBlock(block.frame + early, block.samples[early:]))
        return kept
