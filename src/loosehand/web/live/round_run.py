"""A round while it runs: its sound kept, heard and watched."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import LoosehandError
from loosehand.hear.heard import Strokes
from loosehand.hear.live import LiveEar, LiveHearing
from loosehand.hear.midi import velocity_to_level_db
from loosehand.hear.scheduled import acoustics_of
from loosehand.rounds.watch import RoundWatch, Watched
from loosehand.web.live.capture import Capture
from loosehand.web.live.head import RoundHead
from loosehand.web.live.journal import Journal
from loosehand.web.live.wire import SoundBlock

__all__ = ["RoundBeat", "RoundRun", "sound_of"]

Int32Array = NDArray[np.int32]

_FULL_SCALE = np.float32(2.0**23)
_TAIL_S = 0.5
_QUICK_FRAMES = 28
"""About a block of the page's sound."""
_LEAD_KEPT = 24
_LEEWAY = 0.30
_LONGEST_GAP_S = 0.25
_FEWEST_FOR_LEVEL = 16
_LOUD_PERCENTILE = 75


@dataclass(frozen=True)
class RoundBeat:
    """What some sound brought.

    Attributes
    ----------
    heard : strokes heard at once: (frame, level in dB, lean from -1 ahead to 1 behind)
    withdrawn : frames of strokes that were none after all
    watched : how the round stands
    complete : whether all that belongs to the round has been recorded
    """

    heard: list[tuple[float, float, float]]
    withdrawn: list[float]
    watched: Watched
    complete: bool


class RoundRun:
    """Records a round, hears it and watches it.

    Parameters
    ----------
    head : what is known of it
    journal : where it is kept; what stands there already is heard again first
    """

    def __init__(self, head: RoundHead, journal: Journal) -> None:
        self.head = head
        self.journal = journal
        self.capture = Capture(head.start_frame, head.start_frame + journal.samples)
        self.stopped: str | None = None
        self._watch = RoundWatch(
            head.planned, first_count_s=head.first_count_s, play_out=head.setting.play_out
        )
        self._stopped_s = np.inf
        self._leans: list[float] = []
        self._levels_db: list[float] = []
        self._pad_s = 0.0
        self._struck: set[tuple[float, int]] = set()
        self._ear = None
        if head.acoustics is not None:
            self._ear = LiveEar(
                acoustics_of(head.acoustics),
                count_s=60.0 / head.planned.tempo_bpm,
                places_per_count=head.planned.places_per_count,
                hand=head.planned.hand,
                quick_frames=_QUICK_FRAMES,
            )
        self.watched = Watched(0, (), None, None)
        self._hear_again()

    @property
    def now_s(self) -> float:
        """How far the recording has come."""
        if self._ear is None:
            return self._pad_s
        return (self.capture.next_frame - self.head.start_frame) / self.head.sample_rate_hz

    @property
    def broke_off(self) -> bool:
        """Whether so much sound was lost at once that the round is void."""
        return self.capture.longest_gap > _LONGEST_GAP_S * self.head.sample_rate_hz

    def push_block(self, block: SoundBlock) -> RoundBeat:
        """Take a block of sound: keep it first, then hear it. What is not kept is not taken."""
        before = replace(self.capture)
        added = self.capture.push(block)
        if not added.size:
            return self._beat(_nothing(), [])
        try:
            self.journal.append(added)
        except LoosehandError:
            self.capture = before
            raise
        if self._ear is None:
            return self._beat(_nothing(), [])
        return self._hear(self._ear.push(sound_of(added)))

    def push_pad(self, *, frame: float, note: int, velocity: int) -> RoundBeat:
        """Take a stroke of a pad; one that is sent again is taken once."""
        if (frame, note) in self._struck:
            return self._beat(_nothing(), [])
        self.journal.append_stroke({"frame": frame, "note": note, "velocity": velocity})
        self._struck.add((frame, note))
        return self._hear_pad(frame, velocity)

    def pad_clock(self, frame: int) -> RoundBeat:
        """No stroke of a pad before this frame is still to come."""
        self._pad_s = max(self._pad_s, self._take_s(frame))
        return self._beat(_nothing(), [])

    def stop(self, why: str) -> None:
        """End the round before its time."""
        if self.stopped is None:
            self.stopped = why
            self._stopped_s = self.now_s

    def capture_facts(self) -> dict[str, Any]:
        """How the sound was captured, as it is stored with the take."""
        return {
            "listens": self.head.listens,
            "settings": self.head.settings,
            "frames_lost": self.capture.lost_frames,
            "frames_repeated": self.capture.repeated_frames,
            "round_trip_s": self.head.round_trip_s,
            "residual_s": self.head.residual_s,
        }

    @property
    def usual_level_db(self) -> float | None:
        """Usual level of the louder strokes so far, None while there are few."""
        if len(self._levels_db) < _FEWEST_FOR_LEVEL:
            return None
        return float(np.percentile(self._levels_db, _LOUD_PERCENTILE))

    def _hear_again(self) -> None:
        """After a restart: hear what the journal holds."""
        if self._ear is not None:
            for block in self.journal.blocks():
                self._hear(self._ear.push(sound_of(block)))
            return
        for stroke in self.journal.strokes():
            self._struck.add((stroke["frame"], stroke["note"]))
            self._hear_pad(stroke["frame"], stroke["velocity"])

    def _hear(self, hearing: LiveHearing) -> RoundBeat:
        self.watched = self._watch.push(
            hearing.heard,
            hearing.settled,
            settled_until_s=hearing.settled_until_s,
            now_s=self.now_s,
        )
        return self._beat(hearing.heard, [self._frame(each) for each in hearing.withdrawn_s])

    def _hear_pad(self, frame: float, velocity: int) -> RoundBeat:
        time_s = self._take_s(frame)
        self._pad_s = max(self._pad_s, time_s)
        stroke = Strokes(
            np.array([time_s]),
            velocity_to_level_db([velocity]),
            np.ones(1),
            np.zeros((1, 1)),
        )
        self.watched = self._watch.push(
            stroke, stroke, settled_until_s=self._pad_s, now_s=self._pad_s
        )
        return self._beat(stroke, [])

    def _beat(self, heard: Strokes, withdrawn: list[float]) -> RoundBeat:
        if self._ear is None:
            none = _nothing()
            self.watched = self._watch.push(
                none, none, settled_until_s=self._pad_s, now_s=self._pad_s
            )
        self._levels_db.extend(heard.level_db.tolist())
        if self.watched.end is not None:
            self.stop(self.watched.end)
        return RoundBeat(
            [
                (self._frame(time_s), level_db, self._lean(time_s))
                for time_s, level_db in zip(
                    heard.time_s.tolist(), heard.level_db.tolist(), strict=True
                )
            ],
            withdrawn,
            self.watched,
            self.now_s >= self._stopped_s + _TAIL_S,
        )

    def _lean(self, time_s: float) -> float:
        """How far a stroke leans ahead or behind, the hand's own lead taken off."""
        place_s = 60.0 / self.head.planned.tempo_bpm / self.head.planned.places_per_count
        places = (time_s - self.head.first_count_s) / place_s
        off = places - round(places)
        self._leans = [*self._leans, off][-_LEAD_KEPT:]
        return float(np.clip((off - np.median(self._leans)) / _LEEWAY, -1.0, 1.0))

    def _take_s(self, frame: float) -> float:
        return (frame - self.head.start_frame) / self.head.sample_rate_hz

    def _frame(self, time_s: float) -> float:
        return self.head.start_frame + float(time_s) * self.head.sample_rate_hz


def sound_of(samples: Int32Array) -> NDArray[np.float32]:
    """Samples of 24 bits as sound of full scale 1: exactly what is read back from the FLAC.

    Examples
    --------
    >>> sound_of(np.array([-(2**23), 1], dtype=np.int32)).tolist()
    [-1.0, 1.1920928955078125e-07]
    """
    return np.asarray(samples.astype(np.float32) / _FULL_SCALE)


def _nothing() -> Strokes:
    empty = np.zeros(0)
    return Strokes(empty, empty, empty, np.zeros((0, 1)))
