"""Checks of what a workout asks: its ladder, its length, what it refuses."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.errors import BadNotation, BadTempo, InputError, LoosehandError
from loosehand.rounds.workout import (
    COMMON_LADDER_BPM,
    PlannedRound,
    RoundSetting,
    Workout,
    check_workout,
    ladder_rounds,
    warm_up_round,
    workout_from_json,
)

SETTING = RoundSetting(
    round_s=60.0,
    rest_s=45.0,
    count_in_counts=4,
    counts_per_bar=4,
    accent=True,
    silent_bars=False,
    timbre="low wood",
    level_db=-3.0,
    play_out=False,
    technique="whip fours",
    surface="pad",
    loudness=None,
    grip=None,
)


def ladder(*tempos_bpm, weak="left", alternate=True):
    """A workout of a warm-up and a ladder."""
    rounds = ladder_rounds(tempos_bpm=tempos_bpm, weak=weak, round_s=60.0, alternate=alternate)
    warm_up = warm_up_round(lowest_bpm=tempos_bpm[0], round_s=60.0)
    return Workout("Ines", SETTING, (warm_up, *rounds))


def one_round(**changes):
    """A workout of one round."""
    planned = PlannedRound("round", "left", 100.0, 4, 60.0)
    return Workout("Ines", SETTING, (replace(planned, **changes),))


def test_the_common_ladder():
    """The common ladder goes from 60 to 140 by 5."""
    assert len(COMMON_LADDER_BPM) == 17
    assert (COMMON_LADDER_BPM[0], COMMON_LADDER_BPM[1], COMMON_LADDER_BPM[-1]) == (
        60.0,
        65.0,
        140.0,
    )


@pytest.mark.parametrize(
    ("weak", "alternate", "hands"),
    [
        ("left", True, ["left", "right", "alternating"]),
        ("right", True, ["right", "left", "alternating"]),
        ("left", False, ["left", "right"]),
        ("right", False, ["right", "left"]),
    ],
)
def test_the_weak_hand_plays_first_at_every_tempo(weak, alternate, hands):
    """At each tempo comes the weak hand, the strong one, then both; then the next tempo."""
    rounds = ladder_rounds(tempos_bpm=[70.0, 75.0], weak=weak, round_s=60.0, alternate=alternate)
    assert [(each.tempo_bpm, each.hand) for each in rounds] == [
        (tempo, hand) for tempo in (70.0, 75.0) for hand in hands
    ]
    assert {(each.kind, each.places_per_count, each.round_s) for each in rounds} == {
        ("round", 4, 60.0)
    }


@pytest.mark.parametrize(("lowest", "tempo"), [(100.0, 60.0), (60.0, 60.0), (45.0, 45.0)])
def test_a_warm_up_is_never_faster_than_the_ladder(lowest, tempo):
    """The warm-up goes at 60, or at the first tempo where that is slower, with both hands."""
    warm_up = warm_up_round(lowest_bpm=lowest, round_s=30.0)
    assert (warm_up.kind, warm_up.hand, warm_up.tempo_bpm) == ("warm-up", "alternating", tempo)


@pytest.mark.parametrize(
    ("tempo_bpm", "round_s", "counts"),
    [(60.0, 60.0, 60), (104.0, 60.0, 104), (100.0, 6.0, 10), (61.0, 59.0, 59), (72.5, 60.0, 72)],
)
def test_counts_of_a_round_are_whole(tempo_bpm, round_s, counts):
    """Only whole counts are asked for."""
    assert PlannedRound("round", "left", tempo_bpm, 4, round_s).counts == counts


def test_a_workout_takes_its_rounds_count_ins_and_rests():
    """The length is that of rounds and count-ins, and a rest between each two rounds."""
    workout = ladder(60.0, alternate=False)
    assert workout.length_s == pytest.approx(3 * 60.0 + 3 * 4.0 + 2 * 45.0)


def test_a_workout_comes_back_from_storage():
    """What is stored as JSON comes back equal."""
    workout = ladder(60.0, 62.5)
    assert workout_from_json(json.loads(json.dumps(workout.to_json()))) == workout


@pytest.mark.parametrize(
    ("changes", "error", "says"),
    [
        ({"tempo_bpm": 19.9}, BadTempo, "tempo_bpm = 19.9 is not a tempo"),
        ({"tempo_bpm": 400.1}, BadTempo, "tempo_bpm = 400.1 is not a tempo"),
        ({"tempo_bpm": float("nan")}, BadTempo, "tempo_bpm = nan"),
        ({"round_s": 1.9}, InputError, r"round_s = 1\.9 cannot be"),
        ({"round_s": 1801.0}, InputError, "round_s = 1801 cannot be"),
        ({"round_s": 2.0, "tempo_bpm": 20.0}, InputError, "too short for one count at 20"),
        ({"hand": "both"}, InputError, "hand = 'both'"),
        ({"places_per_count": 0}, InputError, "places_per_count = 0"),
        ({"places_per_count": 13}, InputError, "places_per_count = 13"),
    ],
)
def test_rounds_that_cannot_be_are_refused(changes, error, says):
    """A figure of a round that cannot be is named."""
    with pytest.raises(error, match=says):
        check_workout(one_round(**changes))


@pytest.mark.parametrize(
    ("changes", "error", "says"),
    [
        ({"rest_s": -1.0}, InputError, "rest_s = -1 cannot be"),
        ({"rest_s": 601.0}, InputError, "rest_s = 601 cannot be"),
        ({"level_db": 0.1}, InputError, r"level_db = 0\.1 cannot be"),
        ({"level_db": -61.0}, InputError, "level_db = -61 cannot be"),
        ({"count_in_counts": 0}, BadNotation, "count_in_counts = 0"),
        ({"count_in_counts": 17}, BadNotation, "count_in_counts = 17"),
        ({"counts_per_bar": 0}, BadNotation, "counts_per_bar = 0"),
        ({"counts_per_bar": 17}, BadNotation, "counts_per_bar = 17"),
    ],
)
def test_settings_that_cannot_be_are_refused(changes, error, says):
    """A figure that the rounds share and that cannot be is named."""
    with pytest.raises(error, match=says):
        check_workout(replace(one_round(), setting=replace(SETTING, **changes)))


@pytest.mark.parametrize("rounds", [0, 201])
def test_a_workout_has_rounds_but_not_too_many(rounds):
    """None, or more than 200 rounds, are refused; one and 200 are not."""
    with pytest.raises(InputError, match=f"the workout has {rounds} rounds"):
        check_workout(replace(one_round(), rounds=one_round().rounds * rounds))


@pytest.mark.parametrize("rounds", [1, 200])
def test_a_workout_that_can_be_is_returned(rounds):
    """A workout that can be comes back as it was."""
    workout = replace(one_round(), rounds=one_round().rounds * rounds)
    assert check_workout(workout) is workout


@given(
    tempo_bpm=st.floats(allow_nan=True, allow_infinity=True),
    round_s=st.floats(allow_nan=True, allow_infinity=True),
    places=st.integers(-5, 20),
)
def test_a_checked_round_has_a_count(tempo_bpm, round_s, places):
    """Whatever the figures, a round is refused or has at least one count."""
    workout = one_round(tempo_bpm=tempo_bpm, round_s=round_s, places_per_count=places)
    try:
        check_workout(workout)
    except LoosehandError:
        return
    assert workout.rounds[0].counts >= 1


def test_a_workout_stored_before_rounds_had_a_purpose_loads():
    """Its warm-up is for warming up, its rounds are rounds, and it is stored with both."""
    stored = ladder(60.0, 65.0).to_json()
    for each in stored["rounds"]:
        del each["purpose"]
    loaded = workout_from_json(json.loads(json.dumps(stored)))
    assert loaded == ladder(60.0, 65.0)
    assert [each.purpose for each in loaded.rounds[:2]] == ["warm-up", "round"]


def test_a_test_is_stored_as_one_and_other_purposes_are_refused():
    """The purpose comes back from what is stored."""
    test = one_round(purpose="test")
    assert workout_from_json(json.loads(json.dumps(test.to_json()))) == test
    with pytest.raises(InputError, match="purpose = 'show' is not known"):
        check_workout(one_round(purpose="show"))
