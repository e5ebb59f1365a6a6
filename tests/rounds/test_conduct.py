"""Checks of a workout run without hands, by ticks, strokes and keys."""

import json
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loosehand.rounds.conduct import Conductor, Order, Outcome
from loosehand.rounds.wake import Knock
from loosehand.rounds.workout import RoundSetting, Workout, ladder_rounds

OWN_DB = -20.0
REST_S = 10.0
TICK_S = 0.05
SETTING = RoundSetting(
    round_s=6.0,
    rest_s=REST_S,
    count_in_counts=4,
    counts_per_bar=4,
    accent=True,
    silent_bars=False,
    timbre="low wood",
    level_db=-3.0,
    play_out=False,
    technique=None,
    surface=None,
    loudness=None,
    grip=None,
)


class Room:
    """A conductor with its clock: strokes are told when their time has come."""

    def __init__(self, *, rounds=2, waits=False, rest_s=REST_S):
        tempos = [100.0 + 5 * k for k in range((rounds + 1) // 2)]
        planned = ladder_rounds(tempos_bpm=tempos, weak="left", round_s=6.0, alternate=False)
        setting = replace(SETTING, rest_s=rest_s)
        self.conductor = Conductor(Workout("Ines", setting, planned[:rounds]), waits=waits)
        self.now_s = 0.0
        self.orders = []
        self.phases = []
        self.strokes = []

    def take(self, orders):
        """Keep orders with the time at which they came."""
        self.orders += [(self.now_s, order) for order in orders]
        if not self.phases or self.phases[-1] != self.conductor.phase:
            self.phases.append(self.conductor.phase)

    def strike(self, count, *, after_s=1.0, gap_s=0.4, level_db=OWN_DB):
        """Strike some time from now."""
        first_s = self.now_s + after_s
        self.strokes += [Knock(first_s + gap_s * k, level_db) for k in range(count)]

    def pass_time(self, time_s):
        """Let time pass, tick by tick."""
        for _ in range(round(time_s / TICK_S)):
            self.now_s += TICK_S
            for stroke in [each for each in self.strokes if each.time_s <= self.now_s]:
                self.strokes.remove(stroke)
                self.conductor.knock(stroke)
            self.take(self.conductor.tick(self.now_s))

    def press(self, key):
        """Press a key."""
        self.take(self.conductor.press(key, self.now_s))

    def check(self):
        """The sound was checked."""
        self.take(self.conductor.checked(self.now_s, own_level_db=OWN_DB))

    def play(self, *, held=10, void=None):
        """The round runs, is over, and is read."""
        assert self.conductor.phase == "round"
        index = self.conductor.index
        self.pass_time(6.0)
        self.take(self.conductor.judging(self.now_s))
        self.pass_time(0.2)
        outcome = Outcome(index, held, 10, "lost the click", void, None)
        self.take(self.conductor.judged(outcome, self.now_s))

    def to_feel(self):
        """Go to the question after the first round."""
        self.check()
        self.press("go")
        self.play()
        assert self.conductor.phase == "feel"

    def cues(self, *, since_s=-1.0):
        """Cues that sounded, with their times."""
        return [
            (at_s, order.cue)
            for at_s, order in self.orders
            if order.act == "cue" and at_s >= since_s
        ]

    def count(self, act):
        """How often something was ordered."""
        return sum(order.act == act for _, order in self.orders)

    @property
    def feels(self):
        """What was said of the rounds."""
        return [each.feel for each in self.conductor.outcomes]


def test_a_whole_workout():
    """Check, four strokes, round, answer, rest, next round by itself, answer, done: in order."""
    room = Room()
    room.pass_time(1.0)
    assert (room.conductor.phase, room.orders) == ("check", [])
    room.check()
    room.strike(4, gap_s=0.5)
    room.pass_time(5.0)
    room.play()
    room.strike(1)
    room.pass_time(4.0)
    assert room.conductor.phase == "rest"
    room.pass_time(REST_S)
    room.play(held=4)
    room.strike(3)
    room.pass_time(6.0)
    assert room.phases == [
        *("check", "waiting", "round", "judging", "feel"),
        *("rest", "round", "judging", "feel"),
        "done",
    ]
    assert room.feels == ["loose", "tense"]
    assert [each.held for each in room.conductor.outcomes] == [10, 4]
    assert (room.count("begin"), room.count("rated"), room.conductor.planned) == (2, 2, None)
    assert [cue for _, cue in room.cues()] == [
        *("held", "next", "pip", "pip", "last pip"),
        *("held", "done"),
    ]


def test_the_last_seconds_of_a_rest_are_counted():
    """Cues come at 3, 2 and 1 s before the round, the last one another; then it begins."""
    room = Room()
    room.to_feel()
    room.press("loose")
    rest_from_s = room.now_s
    room.pass_time(REST_S + 1.0)
    pips = [(at_s - rest_from_s, cue) for at_s, cue in room.cues(since_s=rest_from_s + 0.01)]
    assert [cue for _, cue in pips] == ["pip", "pip", "last pip"]
    assert [at_s for at_s, _ in pips] == pytest.approx([7.0, 8.0, 9.0], abs=2 * TICK_S)
    begun_s = [at_s for at_s, order in room.orders if order.act == "begin"]
    assert begun_s[-1] - rest_from_s == pytest.approx(REST_S, abs=2 * TICK_S)


def test_no_rest_is_no_rest():
    """With no rest the next round begins at once, and nothing is counted down."""
    room = Room(rest_s=0.0)
    room.to_feel()
    room.press("loose")
    room.pass_time(0.1)
    assert room.conductor.phase == "round"
    assert [cue for _, cue in room.cues()] == ["held", "next"]


@pytest.mark.parametrize(
    ("strokes", "feel"), [(0, None), (1, "loose"), (2, "working"), (3, "tense")]
)
def test_strokes_say_how_it_felt(strokes, feel):
    """One, two, three strokes are an answer; none is none, and the rest begins all the same."""
    room = Room()
    room.to_feel()
    room.strike(strokes)
    room.pass_time(7.0)
    assert room.conductor.phase == "rest"
    assert room.feels == [feel]
    rated = [order.outcome for _, order in room.orders if order.act == "rated"]
    assert [each.feel for each in rated] == ([] if feel is None else [feel])


@pytest.mark.parametrize("strokes", [4, 5, 8])
def test_pain_needs_confirming(strokes):
    """Four strokes or more ask again; one more stroke says that it hurts, and all stops."""
    room = Room()
    room.to_feel()
    room.strike(strokes)
    room.pass_time(2.6 + 0.4 * strokes)
    assert room.conductor.phase == "confirm"
    assert room.cues()[-1][1] == "ask"
    assert room.feels == [None]
    room.strike(1)
    room.pass_time(2.0)
    assert (room.conductor.phase, room.feels) == ("pain", ["pain"])
    assert room.cues()[-1][1] == "pain"
    room.strike(4, gap_s=0.5)
    room.pass_time(60.0)
    assert (room.conductor.phase, room.count("begin")) == ("pain", 1)


def test_pain_that_is_not_confirmed_is_no_answer():
    """Where nobody confirms it the round has no word, and the workout goes on."""
    room = Room()
    room.to_feel()
    room.strike(4)
    room.pass_time(4.5)
    assert room.conductor.phase == "confirm"
    room.pass_time(5.0)
    assert (room.conductor.phase, room.feels) == ("rest", [None])


def test_the_strokes_that_asked_do_not_confirm():
    """Strokes right after the question was put again belong to those before."""
    room = Room()
    room.to_feel()
    room.strike(4)
    room.pass_time(2.2 + 1.4 + 0.1)
    assert room.conductor.phase == "confirm"
    room.strike(1, after_s=0.2)
    room.pass_time(6.0)
    assert (room.conductor.phase, room.feels) == ("rest", [None])


@pytest.mark.parametrize("phase", ["feel", "confirm"])
def test_soft_sounds_are_no_answer(phase):
    """A word in the room neither answers, nor confirms pain, nor keeps the question open."""
    room = Room()
    room.to_feel()
    if phase == "confirm":
        room.strike(4)
        room.pass_time(4.0)
    assert room.conductor.phase == phase
    room.strike(10, after_s=0.3, gap_s=0.31, level_db=OWN_DB - 20.0)
    room.pass_time(6.0)
    assert (room.conductor.phase, room.feels) == ("rest", [None])


@pytest.mark.parametrize("strokes_on", [1, 3, 12])
def test_strokes_that_go_on_after_the_round_are_no_answer(strokes_on):
    """Sixteenths that run past the end say nothing; the answer after a moment of calm counts."""
    room = Room()
    room.to_feel()
    room.strike(strokes_on, after_s=0.1, gap_s=0.14)
    room.pass_time(0.1 + 0.14 * strokes_on + 1.2)
    assert room.conductor.phase == "feel"
    room.strike(2, after_s=0.1)
    room.pass_time(4.0)
    assert (room.conductor.phase, room.feels) == ("rest", ["working"])


def test_an_answer_that_began_late_is_waited_for():
    """A stroke just before the time is up is counted to its end."""
    room = Room()
    room.to_feel()
    room.strike(3, after_s=4.7)
    room.pass_time(7.2)
    assert (room.conductor.phase, room.feels) == ("rest", ["tense"])


def test_a_question_that_is_spoken_is_waited_for_longer():
    """Where the question is spoken an answer has its time after the words."""
    room = Room()
    room.conductor.extra_answer_s = 2.6
    room.to_feel()
    room.pass_time(7.0)
    assert room.conductor.phase == "feel"
    room.pass_time(1.0)
    assert room.conductor.phase == "rest"


@pytest.mark.parametrize("waits", [False, True])
def test_a_void_round_comes_again(waits):
    """A void round waits to be woken, keeps its place, and asks for no feel."""
    room = Room(waits=waits)
    room.check()
    room.press("go")
    room.play(held=None, void="nobody played")
    assert (room.conductor.phase, room.conductor.index) == ("waiting", 0)
    room.pass_time(30.0)
    assert room.conductor.phase == "waiting"
    room.strike(4, gap_s=0.5)
    room.pass_time(4.0)
    room.play(held=7)
    assert (room.conductor.phase, room.conductor.index) == ("feel", 1)
    assert [(each.index, each.void) for each in room.conductor.outcomes] == [
        (0, "nobody played"),
        (0, None),
    ]


@pytest.mark.parametrize("phase", ["round", "judging"])
def test_what_is_voided_is_offered_again(phase):
    """A round that is voided while it runs or is read waits to be woken."""
    room = Room()
    room.check()
    room.press("go")
    if phase == "judging":
        room.take(room.conductor.judging(room.now_s))
    room.take(room.conductor.voided(room.now_s))
    assert (room.conductor.phase, room.conductor.index) == ("waiting", 0)


def test_voiding_where_nothing_runs_changes_nothing():
    """In a rest nothing is void."""
    room = Room()
    room.to_feel()
    room.press("loose")
    assert room.conductor.voided(room.now_s) == []
    assert room.conductor.phase == "rest"


def test_waiting_before_every_round():
    """A player who wants to wake every round is waited for after each rest."""
    room = Room(waits=True)
    room.to_feel()
    room.press("loose")
    room.pass_time(REST_S + 30.0)
    assert (room.conductor.phase, room.count("begin")) == ("waiting", 1)
    room.strike(4, gap_s=0.5)
    room.pass_time(4.0)
    assert room.conductor.phase == "round"


def test_four_strokes_end_a_rest():
    """A rest that is long enough ends with four strokes."""
    room = Room()
    room.to_feel()
    room.press("loose")
    room.strike(4, gap_s=0.5)
    room.pass_time(4.0)
    assert room.conductor.phase == "round"


def in_phase(phase):
    """A room of two rounds in a phase."""
    room = Room()
    if phase == "check":
        return room
    room.check()
    if phase == "waiting":
        return room
    room.press("go")
    if phase == "round":
        return room
    if phase == "judging":
        room.take(room.conductor.judging(room.now_s))
        return room
    room.play()
    if phase == "confirm":
        room.strike(4)
        room.pass_time(4.0)
    elif phase in {"rest", "done"}:
        room.press("loose")
        if phase == "done":
            room.press("finish")
    elif phase == "pain":
        room.press("pain")
    assert room.conductor.phase == phase
    return room


PHASES = ("check", "waiting", "round", "judging", "feel", "confirm", "rest", "done", "pain")
LEADS_TO = {
    "go": {"waiting": "round", "rest": "round"},
    "stop": {"round": "round"},
    "wait": {"rest": "waiting"},
    "skip": {"waiting": "waiting", "rest": "done"},
    "finish": dict.fromkeys(("check", "waiting", "feel", "confirm", "rest"), "done"),
    "loose": {"feel": "rest", "confirm": "rest"},
    "working": {"feel": "rest", "confirm": "rest"},
    "tense": {"feel": "rest", "confirm": "rest"},
    "pain": dict.fromkeys(("feel", "confirm", "rest", "waiting"), "pain"),
    "dance": {},
    "": {},
}


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("key", LEADS_TO)
def test_a_key_in_every_phase(key, phase):
    """A key does what it says where it can, and nothing elsewhere."""
    room = in_phase(phase)
    before = room.conductor.to_json()
    orders = room.conductor.press(key, room.now_s)
    if phase in LEADS_TO[key]:
        assert orders
        assert room.conductor.phase == LEADS_TO[key][phase]
    else:
        assert (orders, room.conductor.to_json()) == ([], before)


def test_stopping_ends_the_round_by_choice():
    """The key for stopping ends the round, and says that it was the person's choice."""
    room = in_phase("round")
    assert room.conductor.press("stop", room.now_s) == [Order("end", why="stopped by choice")]


def test_leaving_out_goes_to_the_next_round():
    """A round left out has no outcome; after the last one the workout is over."""
    room = in_phase("waiting")
    room.press("skip")
    assert (room.conductor.index, room.conductor.outcomes) == (1, [])
    room.press("skip")
    assert (room.conductor.phase, room.conductor.planned) == ("done", None)


@pytest.mark.parametrize("key", ["loose", "working", "tense", "pain"])
def test_a_word_by_key_is_the_rounds(key):
    """A key says at once how the round felt."""
    room = in_phase("feel")
    room.press(key)
    assert room.feels == [key]
    assert [order.outcome.feel for _, order in room.orders if order.act == "rated"] == [key]


@pytest.mark.parametrize("phase", PHASES)
def test_a_workout_is_gone_on_with(phase):
    """From any phase a new sitting goes on at the round that comes, after its own check."""
    room = in_phase(phase)
    stored = json.loads(json.dumps(room.conductor.to_json()))
    again = Conductor(room.conductor.workout, waits=False)
    again.resume(stored)
    assert (again.index, again.outcomes) == (room.conductor.index, room.conductor.outcomes)
    assert again.phase == (phase if phase in {"done", "pain"} else "check")
    assert again.to_json() == stored | {"phase": again.phase}


def test_nothing_is_left_to_play_after_the_last_round():
    """A workout that stopped at the last question is over when it is gone on with."""
    room = Room(rounds=1)
    room.to_feel()
    stored = json.loads(json.dumps(room.conductor.to_json()))
    assert stored["phase"] == "feel"
    again = Conductor(room.conductor.workout, waits=False)
    again.resume(stored)
    assert (again.phase, again.planned) == ("done", None)


@pytest.mark.parametrize("way", ["check", "key"])
def test_no_round_begins_where_none_is_left(way):
    """Where all rounds were played after all, checking or waking ends the workout."""
    room = Room(rounds=1)
    if way == "key":
        room.check()
    room.conductor.index = 1
    if way == "check":
        room.check()
    else:
        room.press("go")
    assert (room.conductor.phase, room.count("begin")) == ("done", 0)


steps = st.one_of(
    st.sampled_from(sorted(LEADS_TO)),
    st.tuples(st.just("strike"), st.integers(1, 6), st.sampled_from([OWN_DB, OWN_DB - 20.0])),
    st.tuples(st.just("wait"), st.floats(0.05, 12.0)),
    st.sampled_from(["judge", "void", "check it"]),
)


@settings(max_examples=60, deadline=None)
@given(steps=st.lists(steps, max_size=25), waits=st.booleans())
def test_whatever_happens_rounds_come_in_order(steps, waits):
    """Whatever is struck, pressed and read: a round begins only while one is planned, in order."""
    room = Room(rounds=3, waits=waits)
    room.check()
    begun = []
    for step in steps:
        if step == "judge" and room.conductor.phase == "round":
            room.play()
        elif step == "void" and room.conductor.phase == "round":
            room.play(held=None, void="nobody played")
        elif step == "check it" and room.conductor.phase == "waiting":
            room.check()
        elif isinstance(step, str):
            room.press(step)
        elif step[0] == "strike":
            room.strike(step[1], level_db=step[2])
        else:
            room.pass_time(step[1])
        if room.count("begin") > len(begun):
            assert room.conductor.planned is not None
            begun.append(room.conductor.index)
    assert begun == sorted(begun)
    played = [each.index for each in room.conductor.outcomes if each.void is None]
    assert played == sorted(set(played))


def rated(room, *, word="loose"):
    """The round that comes is played, read and rated."""
    room.press("go")
    room.play()
    room.press(word)


def test_what_comes_is_asked_for_anew_after_each_round():
    """Once a round was rated, what is left is what the plan says then, told of the rounds."""
    room = Room(rounds=4)
    asked = []

    def without_the_next(outcomes, index):
        asked.append((len(outcomes), outcomes[-1].feel, index))
        rounds = room.conductor.workout.rounds
        return (*rounds[:index], *rounds[index + 1 :])

    room.conductor.adapt = without_the_next
    planned = room.conductor.workout.rounds
    room.check()
    rated(room)
    assert room.conductor.phase == "rest"
    assert room.conductor.planned == planned[2]
    rated(room, word="tense")
    assert room.conductor.phase == "done"
    assert asked == [(1, "loose", 1), (2, "tense", 2)]


def test_a_workout_goes_on_where_rounds_were_added():
    """After what was the last round, one that was added comes."""
    room = Room(rounds=1)
    room.conductor.adapt = lambda _, index: (room.conductor.workout.rounds[0],) * min(index + 1, 2)
    room.check()
    rated(room)
    assert (room.conductor.phase, room.conductor.index) == ("rest", 1)
    rated(room)
    assert room.conductor.phase == "done"
