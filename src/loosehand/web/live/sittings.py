"""All pages at all workouts of a server: who plays which, and what became of those that went.

A page that loses its connection keeps its sitting for a while: it comes back and sends what was
not acknowledged. One that does not come back leaves a void round, its sound kept. After a restart
of the server the journals on the disk are found again, and treated the same.
"""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import select

from loosehand.errors import Conflict, LoosehandError
from loosehand.hear.sound_check import sound_check_from_json
from loosehand.rounds.conduct import Outcome
from loosehand.studio.database import Studio
from loosehand.studio.filing import rate_round
from loosehand.studio.hearing import Hearing
from loosehand.studio.models import Round
from loosehand.studio.workouts import StoredWorkout, load_workout, save_progress
from loosehand.web.live.file_round import WENT_AWAY, file_round, filed_outcome, outcome_of_key
from loosehand.web.live.head import RoundHead, head_from_json
from loosehand.web.live.journal import (
    Journal,
    drop_workout,
    journals_in,
    keep_check,
    kept_check,
    new_journal,
    open_journal,
)
from loosehand.web.live.round_run import RoundRun
from loosehand.web.live.sitting import Sitting, SittingSetup

__all__ = ["GRACE_S", "Seat", "Sittings"]

GRACE_S = 20.0
"""How long a page may stay away before its round is void."""
_TAKEN_OVER = "another window took over"


@dataclass
class Seat:
    """A sitting, and whether its page is there.

    Attributes
    ----------
    sitting : the sitting
    leave : called to send the page away; None while no page is there
    left_at_s : when the page went away, by the server's own clock
    """

    sitting: Sitting
    leave: Callable[[], None] | None = None
    left_at_s: float = field(default_factory=time.monotonic)


class Sittings:
    """The sittings of a server.

    Parameters
    ----------
    studio : the studio
    hearing : what hears a stored take
    now : tells the moment
    """

    def __init__(self, studio: Studio, *, hearing: Hearing, now: Callable[[], Any]) -> None:
        self._studio = studio
        self._hearing = hearing
        self._now = now
        self._seats: dict[str, Seat] = {}
        self._found_at_s = time.monotonic()
        self._lock = threading.RLock()

    def join(self, workout: str, page: str, *, take_over: bool) -> Seat:
        """Seat a page at a workout. Slow: it may hear a recorded round again.

        Raises
        ------
        NotFound   if there is no such workout
        Conflict   if another page plays it, and is not to be taken over
        """
        with self._lock:
            seat = self._seats.get(workout)
            if seat is not None and seat.sitting.page != page:
                if seat.leave is not None and not take_over:
                    raise Conflict(
                        "this workout is open in another window: go on there, or take it over here"
                    )
                del self._seats[workout]
                self._send_away(seat)
                seat = None
            if seat is None:
                seat = self._new_seat(workout, page)
                self._seats[workout] = seat
            seat.left_at_s = time.monotonic()
            return seat

    def holds(self, seat: Seat) -> bool:
        """Whether a seat is still the one of its workout: another page may just have taken it."""
        return self._seats.get(seat.sitting.key) is seat

    def depart(self, seat: Seat) -> None:
        """The page of a seat went away; it may come back."""
        seat.leave, seat.left_at_s = None, time.monotonic()

    def clear_away(self, *, grace_s: float = GRACE_S) -> int:
        """File the rounds of pages that did not come back; return how many."""
        with self._lock:
            now_s = time.monotonic()
            for key, seat in list(self._seats.items()):
                if seat.leave is None and now_s - seat.left_at_s > grace_s:
                    self._send_away(seat)
                    del self._seats[key]
            if now_s - self._found_at_s <= grace_s:
                return 0
            return self._file_left()

    def _file_left(self) -> int:
        """File journals that no sitting holds. Raises what kept any of them from being filed."""
        journals = [seat.sitting.journal for seat in self._seats.values()]
        held = {journal.folder for journal in journals if journal is not None}
        filed, fault = 0, None
        for folder in journals_in(self._studio.folder):
            if folder in held or (journal := open_journal(folder)) is None:
                continue
            try:
                self._file(journal)
                filed += 1
            except LoosehandError as error:
                fault = error
                journal.close()
        if fault is not None:
            raise fault
        return filed

    def _file(self, journal: Journal) -> Outcome:
        """File a round; one at a time, and each once."""
        with self._lock:
            if not journal.folder.exists():
                journal.close()
                return filed_outcome(self._studio, journal)
            return file_round(self._studio, journal, hearing=self._hearing, now=self._now())

    def _send_away(self, seat: Seat) -> None:
        """End a sitting: its round is void, its sound kept."""
        void = WENT_AWAY
        if seat.leave is not None:
            seat.leave()
            void = _TAKEN_OVER
        if (journal := seat.sitting.let_go(void=void)) is not None:
            self._file(journal)

    def _new_seat(self, workout: str, page: str) -> Seat:
        stored = load_workout(self._studio, workout)
        sitting = Sitting(stored, page, self._setup(workout, page))
        if (check := kept_check(self._studio.folder, workout, page)) is not None:
            sitting.restore_check(sound_check_from_json(check))
        for folder in journals_in(self._studio.folder):
            if folder.parent.name != workout or (journal := open_journal(folder)) is None:
                continue
            if journal.head["page"] == page and journal.how_it_ended() is None:
                sitting.restore(RoundRun(head_from_json(journal.head), journal))
            else:
                sitting.note_filed(self._file(journal))
        if (outcome := self._outcome_unnoted(stored)) is not None:
            sitting.note_filed(outcome)
        return Seat(sitting)

    def _outcome_unnoted(self, stored: StoredWorkout) -> Outcome | None:
        """A round that was filed before the server stopped, and after it last noted progress."""
        progress = stored.progress or {}
        key, rounds = progress.get("round"), stored.workout.rounds
        if key is None or progress["phase"] not in {"round", "judging"}:
            return None
        index = progress["index"]
        outcome = outcome_of_key(self._studio, key, index=index, counts=rounds[index].counts)
        return outcome if outcome is not None and outcome.void is None else None

    def _setup(self, workout: str, page: str) -> SittingSetup:
        studio = self._studio

        def save(progress: dict[str, Any], over: bool) -> None:
            save_progress(studio, workout, progress, ended_at=self._now() if over else None)
            if over:
                drop_workout(studio.folder, workout)

        def rate(key: str, feel: str) -> None:
            rate_round(studio, key, feel)

        def begin(head: RoundHead) -> Journal:
            return new_journal(studio.folder, head.to_json())

        return SittingSetup(
            begin_journal=begin,
            file_round=self._file,
            rate_round=rate,
            save=save,
            is_filed=self._is_filed,
            keep_check=lambda check: keep_check(studio.folder, workout, page, check.to_json()),
            now=self._now,
        )

    def _is_filed(self, key: str) -> bool:
        with self._studio.look() as session:
            return session.scalar(select(Round.id).where(Round.live_key == key)) is not None
