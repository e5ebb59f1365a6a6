"""The ear on live sound: strokes at once, and the same strokes settled.

Two engines listen to the same samples. A quick one takes a few milliseconds at a time and
says what it hears at once (``heard``); what it says may be withdrawn. The other one is that
of whole files, and what it settles stands.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.acoustics import Acoustics
from loosehand.hear.engine import Candidates, Engine, Stretch, join
from loosehand.hear.heard import Hand, Strokes
from loosehand.hear.settle import as_strokes, settler_for

__all__ = ["LiveEar", "LiveHearing"]

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]

_QUICK_WAIT = 1
_LIKELY_LOG_ODDS = 0.0
_SAME_S = 0.012


@dataclass(frozen=True)
class LiveHearing:
    """What some samples brought.

    Attributes
    ----------
    heard : strokes heard just now, within 40 ms of their sound; they may be withdrawn
    settled : strokes that stand, at most two counts after their sound
    withdrawn_s : times of strokes that were heard and are none after all
    settled_until_s : no stroke before this time is still to settle
    """

    heard: Strokes
    settled: Strokes
    withdrawn_s: FloatArray
    settled_until_s: float


class LiveEar:
    """Hears strokes as they come.

    Parameters
    ----------
    acoustics : what is known of the recording beforehand
    count_s : length of a count of the click
    places_per_count : places in a count
    hand : whose strokes, or None if not told
    quick_frames : frames (1 ms) that are heard at once, even; more of them cost less, and what
        is heard is told that much later

    Notes
    -----
    All that is settled, put together, is what ``listen`` settles of the same samples with
    the same acoustics, to the last bit, however the samples were cut.
    """

    def __init__(
        self,
        acoustics: Acoustics,
        *,
        count_s: float,
        places_per_count: int,
        hand: Hand | None,
        quick_frames: int = 4,
    ) -> None:
        self._quick = Engine(acoustics, frames_per_block=quick_frames, wait_outputs=_QUICK_WAIT)
        self._engine = Engine(acoustics)
        self._settler = settler_for(count_s=count_s, places_per_count=places_per_count, hand=hand)
        self._unsettled_s = np.zeros(0)

    def push(self, samples: Float32Array) -> LiveHearing:
        """Take the next samples (float32, mono, any number)."""
        heard = _likely(self._quick.push(samples))
        self._unsettled_s = np.concatenate((self._unsettled_s, heard.time_s))
        parts = [self._settler.push(stretch) for stretch in self._engine.push(samples)]
        return self._hearing(heard, join(parts), self._settler.settled_until_s)

    def finish(self) -> LiveHearing:
        """No more samples come: settle what is left."""
        parts = [self._settler.push(stretch) for stretch in self._engine.finish()]
        return self._hearing(join([]), join([*parts, self._settler.finish()]), np.inf)

    def _hearing(self, heard: Candidates, settled: Candidates, until_s: float) -> LiveHearing:
        due = self._unsettled_s < until_s - _SAME_S
        withdrawn = _without_match(self._unsettled_s[due], settled.time_s)
        self._unsettled_s = self._unsettled_s[~due]
        return LiveHearing(as_strokes(heard), as_strokes(settled), withdrawn, until_s)


def _likely(stretches: list[Stretch]) -> Candidates:
    found = join([stretch.found for stretch in stretches])
    return found.some(found.log_odds > _LIKELY_LOG_ODDS)


def _without_match(heard_s: FloatArray, settled_s: FloatArray) -> FloatArray:
    """Those of the first that have none of the second near them."""
    if settled_s.size == 0 or heard_s.size == 0:
        return heard_s
    off_s = np.min(np.abs(heard_s[:, None] - settled_s[None, :]), axis=1)
    return np.asarray(heard_s[off_s > _SAME_S])
