"""What is listened to outside rounds: the sound check, and strokes that wake or answer."""

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.acoustics import Acoustics
from loosehand.hear.engine import Engine, join
from loosehand.hear.sound_check import SoundCheck
from loosehand.web.live.capture import Capture
from loosehand.web.live.clicks import CHECK_LENGTH_S
from loosehand.web.live.round_run import sound_of
from loosehand.web.live.wire import SoundBlock

__all__ = ["CheckSound", "IdleEar", "own_level_db"]

_LIKELY = 0.0
_OWN_ABOVE_FLOOR_DB = 30.0


def own_level_db(check: SoundCheck) -> float:
    """Level of the player's own strokes, guessed where none was heard."""
    if check.own_level_db is None:
        return check.noise_floor_db + _OWN_ABOVE_FLOOR_DB
    return check.own_level_db


class CheckSound:
    """The sound of a check while it comes.

    Parameters
    ----------
    start_frame : of the first sample that is kept
    first_click_frame : at which the first click was sent
    rate_hz : of the page's sound
    """

    def __init__(self, start_frame: int, first_click_frame: int, rate_hz: int) -> None:
        self.start_frame = start_frame
        self.first_click_frame = first_click_frame
        self._size = int(CHECK_LENGTH_S * rate_hz)
        self._capture = Capture(start_frame, start_frame)
        self._parts: list[NDArray[np.int32]] = []

    def push(self, block: SoundBlock) -> None:
        """Take a block."""
        self._parts.append(self._capture.push(block))

    @property
    def complete(self) -> bool:
        """Whether all of it has come."""
        return self._capture.next_frame - self.start_frame >= self._size

    def sound(self) -> NDArray[np.float32]:
        """All of it, full scale 1."""
        return sound_of(np.concatenate(self._parts)[: self._size])


class IdleEar:
    """The quick ear outside rounds; where sound was lost it begins anew.

    Parameters
    ----------
    frame : from which on it listens
    rate_hz : of the page's sound
    check : the sound check, which knows the room and the player's strokes
    """

    def __init__(self, frame: int, rate_hz: int, check: SoundCheck) -> None:
        self._rate = rate_hz
        self._check = check
        self._begin(frame)

    def _begin(self, frame: int) -> None:
        self._start = self._next = frame
        quiet = Acoustics(self._rate, self._check.floor, None, None)
        self._engine = Engine(quiet, frames_per_block=8, wait_outputs=1)

    def push(self, block: SoundBlock) -> list[tuple[float, float]]:
        """Likely strokes of the player's: times by the page's clock, and levels in dB."""
        if block.frame != self._next:
            self._begin(block.frame)
        self._next = block.frame + block.samples.size
        found = join([part.found for part in self._engine.push(sound_of(block.samples))])
        likely = found.some(found.log_odds > _LIKELY)
        likely = likely.some(self._check.sounds_like_own(likely.timbre_db))
        since_s = self._start / self._rate
        return [
            (since_s + time_s, level_db)
            for time_s, level_db in zip(
                likely.time_s.tolist(), likely.level_db.tolist(), strict=True
            )
        ]
