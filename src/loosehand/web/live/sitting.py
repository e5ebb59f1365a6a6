"""One page at one workout: what it sends goes in, what it is to do comes out.

A sitting begins when the page is armed by one press. It checks the sound, then runs the workout's
conductor on the clock of the page's sound. Nothing here waits: slow work is handed out as jobs.
"""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any
from uuid import uuid4

from loosehand.errors import InputError, LoosehandError, NotFound
from loosehand.hear.midi import velocity_to_level_db
from loosehand.hear.sound_check import SoundCheck, check_sound
from loosehand.rounds.conduct import Conductor, Order, Outcome
from loosehand.rounds.wake import Knock
from loosehand.studio.workouts import StoredWorkout
from loosehand.web.live.capture import Recent
from loosehand.web.live.clicks import (
    CHECK_STROKES_FROM_S,
    check_clicks,
    check_order,
    click_order,
    click_sounds,
    round_acoustics,
)
from loosehand.web.live.head import RoundHead
from loosehand.web.live.journal import Journal
from loosehand.web.live.outside_rounds import CheckSound, IdleEar, own_level_db
from loosehand.web.live.plan_run import PlanRun
from loosehand.web.live.round_run import RoundBeat, RoundRun
from loosehand.web.live.said import VOID_REASONS, check_sentences, level_sentence, void_sentence
from loosehand.web.live.wire import SoundBlock, number_in, text_in

__all__ = ["Job", "Sitting"]

_RECENT_S = 3.0
_BEFORE_CLICK_S = 0.25
_ACK_S = 0.2
_CUE_AHEAD_S = 0.12
_CUE_DEAF_S = 0.30
_SPEECH_DEAF_S = 2.6
_SPOKEN_LETTERS_A_S = 12.0
"""Letters that a browser speaks in a second, on the slow side. Chosen by ear, not validated."""
_PAD_OWN_DB = -30.0
_PAD_FLOOR_DB = -60.0
_RATES_HZ = (8_000, 192_000)
_KEY = 32
_FILE_AGAIN_S = 5.0


@dataclass(frozen=True)
class Job:
    """Slow work, and what takes its result.

    Attributes
    ----------
    work : run in a thread
    then : called with what it returned
    failed : called where it raised an error of ours, which the page is told; or None
    """

    work: Callable[[], Any]
    then: Callable[[Any], None]
    failed: Callable[[], None] | None = None


@dataclass(frozen=True)
class SittingSetup:
    """What a sitting needs of the studio.

    Attributes
    ----------
    begin_journal : makes a round's journal
    file_round : files a journal, returns what came of it
    rate_round : writes how a round felt
    save : writes how far the workout got; the second word says whether it is over
    is_filed : whether a round of that key is on the chart
    keep_check : keeps a sound check, so that it outlives the server
    now : tells the moment
    """

    begin_journal: Callable[[RoundHead], Journal]
    file_round: Callable[[Journal], Outcome]
    rate_round: Callable[[str, str], None]
    save: Callable[[dict[str, Any], bool], None]
    is_filed: Callable[[str], bool]
    keep_check: Callable[[SoundCheck], None]
    now: Callable[[], datetime]


class Sitting:
    """A page at a workout.

    Parameters
    ----------
    stored : the workout and how far it got
    page : key of the page that plays it
    setup : what it needs of the studio

    Attributes
    ----------
    outbox : messages for the page, in order; whoever sends them empties it
    jobs : slow work, to be run; likewise
    run : the round that is recorded, or None
    """

    def __init__(self, stored: StoredWorkout, page: str, setup: SittingSetup) -> None:
        self.key = stored.key
        self.page = page
        self.outbox: list[dict[str, Any]] = []
        self.jobs: list[Job] = []
        self.run: RoundRun | None = None
        self._workout = stored.workout
        self._setup = setup
        self._plan = None
        if stored.plan is not None:
            spent_s = (stored.progress or {}).get("spent_s", 0.0)
            self._plan = PlanRun(stored.plan, spent_s=spent_s)
        self._conductor = Conductor(
            stored.workout,
            waits=False,
            adapt=None if self._plan is None else self._plan.after_round,
        )
        if stored.progress:
            self._conductor.resume(stored.progress)
        self._rate = 0
        self._listens = "microphone"
        self._settings: dict[str, Any] = {}
        self._latency_guess_s = 0.0
        self._frame = 0
        self._clock_runs = False
        self._recent = Recent(0)
        self._check: SoundCheck | None = None
        self._checking: CheckSound | None = None
        self._awaits_check = False
        self._last_round: str | None = None
        self._unfiled: Journal | None = None
        self._file_again_s: float | None = None
        self._idle: IdleEar | None = None
        self._deaf: list[tuple[float, float]] = []
        self._acked_frame = 0
        self._marked: int | None = None
        self._hushed = False
        self._spoken = False
        self.withdrawn_breaks = 0
        self.breaks_told = 0

    # ------------------------------------------------------------ what the page says

    def take_message(self, message: dict[str, Any]) -> None:
        """Take a message.

        Raises
        ------
        InputError   if it cannot be
        """
        takers: dict[str, Callable[[dict[str, Any]], None]] = {
            "arm": self._arm,
            "check": self._ask_check,
            "begun": self._begun,
            "key": self._key,
            "pad": self._pad,
            "clock": self._clock,
            "void": self._void,
        }
        taker = takers.get(message["kind"])
        if taker is None:
            raise InputError(f"kind = {message['kind'][:40]!r} is not known")
        if taker != self._arm and not self._rate:
            raise InputError("the page was not armed yet: press the button first")
        taker(message)

    def take_block(self, block: SoundBlock) -> None:
        """Take a block of sound."""
        if not self._rate:
            raise InputError("sound came before the page was armed")
        if self._listens != "microphone":
            return
        end = block.frame + block.samples.size
        self._advance(end)
        self._recent.push(block)
        if self.run is not None:
            self._after(self.run.push_block(block))
        elif self._checking is not None:
            self._checking.push(block)
            if self._checking.complete:
                self._read_check()
        else:
            self._listen_idle(block)
        self._tick()

    def _arm(self, message: dict[str, Any]) -> None:
        """One press a sitting: the page's sound is on."""
        rate = int(number_in(message, "rate", lowest=_RATES_HZ[0], highest=_RATES_HZ[1]))
        listens = text_in(message, "listens", longest=12)
        if listens not in {"microphone", "pad"}:
            raise InputError(f"listens = {listens!r}: want microphone or pad")
        self._latency_guess_s = number_in(message, "latency_s", lowest=0.0, highest=2.0)
        self._conductor.waits = message.get("waits") is True
        self._spoken = message.get("spoken") is True
        self._conductor.extra_answer_s = _SPEECH_DEAF_S if self._spoken else 0.0
        if self._rate == rate:
            # The page came back: its sound never stopped.
            if self.run is None and self._conductor.phase == "round":
                # Its clicks may not have reached it. Where they did it says so next.
                self._conductor.voided(self._now_s)
            self._show()
            return
        self._rate, self._listens = rate, listens
        settings = message.get("settings")
        self._settings = settings if isinstance(settings, dict) and len(settings) < 40 else {}
        self._recent = Recent(int(_RECENT_S * self._rate))
        self._say({"do": "sounds", "sounds": self._sounds()})
        if self._listens == "pad":
            self._conductor.checked(self._now_s, own_level_db=_PAD_OWN_DB)
        elif self._check is not None:
            self._conductor.checked(self._now_s, own_level_db=own_level_db(self._check))
        self._show()

    def _sounds(self) -> dict[str, list[float]]:
        return click_sounds(self._workout.setting.timbre, sample_rate_hz=self._rate)

    def _ask_check(self, _message: dict[str, Any]) -> None:
        """Check the sound: at first, or once more."""
        if self.run is not None or self._listens == "pad" or self._is_over:
            return
        self._conductor.phase = "check"
        self._checking = None
        self._awaits_check = True
        self._say({"do": "play", "round": "check", "clicks": check_order()})
        self._show()

    def _begun(self, message: dict[str, Any]) -> None:
        """The page has set its clicks going: their first one sounds at this frame."""
        key = text_in(message, "round", longest=_KEY)
        frame = int(number_in(message, "frame", lowest=0, highest=2**50))
        if key == "check":
            self._begin_check(frame)
        elif self.run is not None and self.run.head.round == key:
            self._ack(always=True)
        elif self._was_played(key):
            self._say({"do": "over", "round": key})
        else:
            self._begin_round(key, frame, int(number_in(message, "index", lowest=0, highest=999)))

    @property
    def _is_over(self) -> bool:
        """Whether nothing more is played: all was, or the person had enough, or it hurt."""
        return self._conductor.phase in {"done", "pain"}

    @property
    def _is_checked(self) -> bool:
        """Whether rounds may begin; a pad has no sound to check."""
        return self._check is not None or self._listens == "pad"

    def _was_played(self, key: str) -> bool:
        if len(key) != _KEY or not key.isascii() or not key.isalnum():
            raise InputError("round is not the key of a round")
        return key == self._last_round or self._setup.is_filed(key)

    def _begin_check(self, frame: int) -> None:
        start = frame - int(_BEFORE_CLICK_S * self._rate)
        self._checking = CheckSound(max(start, 0), frame, self._rate)
        for block in self._recent.since(self._checking.start_frame):
            self._checking.push(block)

    def _begin_round(self, key: str, frame: int, index: int) -> None:
        planned = self._conductor.planned
        if planned is None or index != self._conductor.index:
            raise InputError(f"round {index + 1} is not the one that comes now")
        if not self._is_checked:
            raise InputError("the sound is not checked yet: the round comes after that")
        head = self._head(key, frame)
        self._awaits_check = False
        try:
            journal = self._setup.begin_journal(head)
        except LoosehandError:
            # Nothing of it could be kept: the page stops, and the round is offered again.
            self._say({"do": "over", "round": key})
            self._obey(self._conductor.voided(self._now_s))
            raise
        self._conductor.phase = "round"
        self.run = RoundRun(head, journal)
        self._marked, self._hushed = None, False
        if self._plan is not None:
            self._plan.reason = None
        for block in self._recent.since(head.start_frame):
            self._after(self.run.push_block(block))
        self._save()
        self._show()

    def _head(self, key: str, frame: int) -> RoundHead:
        planned = self._conductor.planned
        assert planned is not None, "a round begins only where one is planned"
        setting = self._workout.setting
        start = max(frame - int(_BEFORE_CLICK_S * self._rate), 0)
        first_click_s = (frame - start) / self._rate + self._way_s
        heard = None
        if self._listens == "microphone":
            assert self._check is not None, "rounds come after the check"
            heard = round_acoustics(
                self._check,
                planned,
                setting,
                first_click_s=first_click_s,
                sample_rate_hz=self._rate,
            )
        path = None if self._check is None else self._check.path
        return RoundHead(
            round=key,
            workout=self.key,
            page=self.page,
            player=self._workout.player,
            index=self._conductor.index,
            listens=self._listens,
            planned=planned,
            setting=setting,
            sample_rate_hz=self._rate,
            start_frame=start,
            first_count_s=first_click_s + 60.0 * setting.count_in_counts / planned.tempo_bpm,
            acoustics=heard,
            settings=self._settings,
            round_trip_s=None if path is None else path.round_trip_s,
            residual_s=None if path is None else path.residual_s,
            began_at=self._setup.now().isoformat(),
        )

    @property
    def _way_s(self) -> float:
        """From a click's frame to the frame at which it is heard; none for a pad."""
        if self._listens == "pad":
            return 0.0
        path = None if self._check is None else self._check.path
        return self._latency_guess_s if path is None else path.round_trip_s

    def _key(self, message: dict[str, Any]) -> None:
        key = text_in(message, "key", longest=12)
        if key == "go" and not self._is_checked:
            return
        self._obey(self._conductor.press(key, self._now_s))

    def _pad(self, message: dict[str, Any]) -> None:
        """A stroke of a pad."""
        frame = number_in(message, "frame", lowest=0, highest=2**50)
        note = int(number_in(message, "note", lowest=0, highest=127))
        velocity = int(number_in(message, "velocity", lowest=1, highest=127))
        if self._listens != "pad":
            return
        if self.run is not None:
            self._after(self.run.push_pad(frame=frame, note=note, velocity=velocity))
        else:
            level_db = float(velocity_to_level_db([velocity])[0])
            if level_db > _PAD_FLOOR_DB:
                self._conductor.knock(Knock(frame / self._rate, level_db))
        self._advance(int(frame))
        self._tick()

    def _clock(self, message: dict[str, Any]) -> None:
        """Time goes on at a pad, though no sound comes."""
        frame = int(number_in(message, "frame", lowest=0, highest=2**50))
        self._advance(frame)
        if self.run is not None and self._listens == "pad":
            self._after(self.run.pad_clock(frame))
        self._tick()

    def _void(self, message: dict[str, Any]) -> None:
        """Something went wrong at the page: the round is void and offered again."""
        why = text_in(message, "why", longest=40)
        if why not in VOID_REASONS:
            raise InputError(f"why = {why!r} is not known")
        sentence = f"{VOID_REASONS[why]}."
        if self.run is not None:
            sentence = void_sentence(why)
            self.close_round(void=why)
        if message.get("check_again") is True and not self._is_over:
            self._check = None
            self._conductor.phase = "check"
        self._say({"do": "say", "sentence": sentence})
        self._show()

    # ------------------------------------------------------------ rounds

    def restore_check(self, check: SoundCheck) -> None:
        """After a restart of the server: the page's sound was checked before."""
        self._check = check
        self._conductor.own_level_db = own_level_db(check)

    def restore(self, run: RoundRun) -> None:
        """After a restart of the server: go on with a round that was recorded."""
        self.run = run
        self._rate, self._listens = run.head.sample_rate_hz, run.head.listens
        self._settings = run.head.settings
        self._recent = Recent(int(_RECENT_S * self._rate))
        self._conductor.index = run.head.index
        self._conductor.phase = "round"
        self._frame, self._clock_runs = run.capture.next_frame, True
        if self._plan is not None:
            recorded = run.capture.next_frame - run.head.start_frame
            self._plan.spent_s += recorded / self._rate

    def note_filed(self, outcome: Outcome) -> None:
        """A round that was left behind was filed just now: take it into account."""
        known = {each.index for each in self._conductor.outcomes if each.void is None}
        self._conductor.outcomes.append(outcome)
        if outcome.void is None and outcome.index not in known:
            self._conductor.index = max(self._conductor.index, outcome.index + 1)

    @property
    def journal(self) -> Journal | None:
        """Of the round that runs, or of one that is over and not filed yet."""
        return self._unfiled if self.run is None else self.run.journal

    def let_go(self, *, void: str) -> Journal | None:
        """The page is sent away: what runs is void. Return the journal that is to be filed."""
        run, self.run = self.run, None
        if run is not None:
            self._unfiled = run.journal
            with suppress(LoosehandError):  # it is remembered, and filing says what is wrong
                run.journal.end({"ended": None, "void": void, "capture": run.capture_facts()})
        journal, self._unfiled = self._unfiled, None
        return journal

    def close_round(self, *, void: str | None) -> None:
        """The round is over: end its journal and have it filed."""
        run, self.run = self.run, None
        assert run is not None, "a round is closed once"
        self._last_round = run.head.round
        self._hush()
        chosen = run.stopped == "stopped by choice"
        level = level_sentence(
            run.usual_level_db,
            checked_db=None if self._check is None else self._check.own_level_db,
            loudness=self._workout.setting.loudness,
        )
        if level is not None:
            self._say({"do": "say", "sentence": level})
        self._unfiled = run.journal
        with suppress(LoosehandError):  # it is remembered, and filing says what is wrong
            run.journal.end(
                {
                    "ended": "stopped by choice" if chosen else None,
                    "void": void,
                    "capture": run.capture_facts(),
                    "notes": [] if level is None else [level],
                }
            )
        self._obey(self._conductor.judging(self._now_s))
        self._idle = None
        self._file()

    def _file(self) -> None:
        """Have the round that is over filed; where it cannot be, try again after a while."""
        journal, self._file_again_s = self._unfiled, None
        assert journal is not None, "a round was closed"
        self.jobs.append(Job(lambda: self._setup.file_round(journal), self._filed, self._not_filed))

    def _not_filed(self) -> None:
        self._file_again_s = self._now_s + _FILE_AGAIN_S

    def _hush(self) -> None:
        """Have the page stop the clicks, once."""
        if not self._hushed:
            self._hushed = True
            self._say({"do": "hush"})

    def _filed(self, outcome: Outcome) -> None:
        self._unfiled = None
        self._say({"do": "result", "result": asdict(outcome)})
        if outcome.void is not None:
            self._say({"do": "say", "sentence": void_sentence(outcome.void)})
        self._obey(self._conductor.judged(outcome, self._now_s))
        if not self._is_checked:
            self._go_on_checking()

    def _go_on_checking(self) -> None:
        """Nothing else comes before the check that is going on, or is needed."""
        if not self._awaits_check:
            self._ask_check({})
        elif not self._is_over:
            self._conductor.phase = "check"
            self._show()

    def _after(self, beat: RoundBeat) -> None:
        """What some sound of the round brought."""
        run = self.run
        if run is None:
            return
        if beat.heard or beat.withdrawn:
            self._say({"do": "strokes", "heard": beat.heard, "withdrawn": beat.withdrawn})
        self._mark(beat.watched.held)
        if run.stopped is not None:
            self._hush()
        self._ack(always=False)
        if run.broke_off:
            self.close_round(void="sound was lost")
        elif beat.complete:
            self.close_round(void=None)

    def _mark(self, held: int | None) -> None:
        """The first break is only marked, and the mark may be taken back."""
        if held == self._marked:
            return
        if held is not None and self._marked is None:
            self.breaks_told += 1
        if held is None:
            self.withdrawn_breaks += 1
        self._marked = held
        self._say({"do": "mark", "held": held})

    def _ack(self, *, always: bool) -> None:
        assert self.run is not None, "a round runs"
        frame = self.run.capture.next_frame
        if always or frame - self._acked_frame > _ACK_S * self._rate:
            self._acked_frame = frame
            self._say({"do": "ack", "frame": frame})

    # ------------------------------------------------------------ outside rounds

    def _listen_idle(self, block: SoundBlock) -> None:
        """Strokes outside rounds: they wake one, or say how the last one felt."""
        if self._check is None:
            return
        if self._idle is None:
            self._idle = IdleEar(block.frame, self._rate, self._check)
        for time_s, level_db in self._idle.push(block):
            if not any(first <= time_s <= last for first, last in self._deaf):
                self._conductor.knock(Knock(time_s, level_db))

    def _read_check(self) -> None:
        checking, self._checking = self._checking, None
        assert checking is not None, "a check was going on"
        clicks = check_clicks(
            self._workout.setting.timbre,
            first_s=(checking.first_click_frame - checking.start_frame) / self._rate,
            sample_rate_hz=self._rate,
        )
        sound, rate = checking.sound(), self._rate
        self.jobs.append(
            Job(
                lambda: check_sound(
                    sound, clicks, sample_rate_hz=rate, strokes_from_s=CHECK_STROKES_FROM_S
                ),
                self._checked,
            )
        )

    def _checked(self, check: SoundCheck) -> None:
        self._check, self._awaits_check, self._idle = check, False, None
        try:
            self._setup.keep_check(check)
        except LoosehandError as error:
            # It holds for this sitting all the same.
            self._say({"do": "say", "sentence": f"{error}."})
        self._say(
            {
                "do": "checked",
                "sentences": check_sentences(check, settings=self._settings),
                "round_trip_s": self._way_s,
                "click_heard": check.path is not None,
                "strokes": check.strokes,
            }
        )
        self._obey(self._conductor.checked(self._now_s, own_level_db=own_level_db(check)))

    def _tick(self) -> None:
        if self._file_again_s is not None and self._now_s >= self._file_again_s:
            self._file()
        if self.run is None and self._checking is None and self._is_checked:
            self._obey(self._conductor.tick(self._now_s))

    def _advance(self, frame: int) -> None:
        """The page's sound has come this far."""
        if self._plan is not None and self._clock_runs:
            self._plan.spent_s += max(frame - self._frame, 0) / self._rate
        self._frame, self._clock_runs = max(self._frame, frame), True

    @property
    def _now_s(self) -> float:
        return self._frame / self._rate if self._rate else 0.0

    # ------------------------------------------------------------ orders

    def _obey(self, orders: list[Order]) -> None:
        for order in orders:
            match order.act:
                case "begin":
                    self._play()
                case "end":
                    if self.run is not None:
                        self.run.stop(order.why or "stopped by choice")
                case "rated":
                    self._rate_last(order.outcome)
                case "cue":
                    self._cue(order)
                case "show":
                    self._save()
                    self._show()

    def _play(self) -> None:
        """Have the page play the clicks of the round that comes."""
        planned = self._conductor.planned
        assert planned is not None, "a round begins only where one is planned"
        self._awaits_check, self._deaf = False, []
        self._say(
            {
                "do": "play",
                "round": uuid4().hex,
                "index": self._conductor.index,
                "clicks": click_order(planned, self._workout.setting),
            }
        )

    def _rate_last(self, outcome: Outcome | None) -> None:
        if outcome is None or outcome.feel is None or self._last_round is None:
            return
        try:
            self._setup.rate_round(self._last_round, outcome.feel)
        except NotFound:
            pass  # a void round of which nothing was kept
        except LoosehandError as error:
            self._say({"do": "say", "sentence": f"{error}."})

    def _cue(self, order: Order) -> None:
        """Sound a cue at a known frame, and be deaf to it."""
        at_s = self._now_s + _CUE_AHEAD_S
        short = order.cue in {"pip", "last pip"} or not self._spoken
        deaf_s = _CUE_DEAF_S if short else _SPEECH_DEAF_S
        if order.cue == "next" and self._spoken and self._reason is not None:
            deaf_s += len(self._reason) / _SPOKEN_LETTERS_A_S
        heard_s = at_s + self._way_s
        self._deaf = [*self._deaf, (heard_s - 0.03, heard_s + deaf_s)][-12:]
        self._say({"do": "cue", "cue": order.cue, "frame": round(at_s * self._rate)})

    def _save(self) -> None:
        """Write how far the workout got; where that fails it goes on, and the page says so."""
        key = self._last_round if self._conductor.phase == "judging" else None
        key = key if self.run is None else self.run.head.round
        progress = self._conductor.to_json() | {"round": key}
        if self._plan is not None:
            progress |= self._plan.to_json()
        try:
            self._setup.save(progress, self._is_over)
        except LoosehandError as error:
            self._say({"do": "say", "sentence": f"{error}."})

    def _show(self) -> None:
        self._say({"do": "show", "state": self.state()})

    def state(self) -> dict[str, Any]:
        """What the page shows."""
        conductor = self._conductor
        planned = conductor.planned
        return {
            "phase": conductor.phase,
            "index": conductor.index,
            "rounds": len(conductor.workout.rounds),
            "until_frame": None
            if conductor.until_s is None
            else round(conductor.until_s * self._rate),
            "planned": None if planned is None else asdict(planned) | {"counts": planned.counts},
            "outcomes": [asdict(each) for each in conductor.outcomes],
            "have_frame": None if self.run is None else self.run.capture.next_frame,
            "checked": self._is_checked,
            "why": self._reason,
        }

    @property
    def _reason(self) -> str | None:
        """Why what comes was changed after the last round, said until the next one begins."""
        return None if self._plan is None else self._plan.reason

    def _say(self, message: dict[str, Any]) -> None:
        self.outbox.append(message)
