"""Fitting a hand: against a slow way to the same, against planted truths, and on bad charts."""

import math
import random
import time
from dataclasses import fields, replace
from datetime import timedelta

import numpy as np
import pytest

from loosehand.errors import NotIdentifiable
from loosehand.players.charts import LadderHabit
from loosehand.reach.draws import Draws
from loosehand.reach.fit import expect_of_nobody, fit_hand, refit_hand
from loosehand.reach.laws import LAWS
from loosehand.reach.prior import NOBODY_KNOWN
from loosehand.reach.seen import HandKind
from tests.reach.ladder_hands import AT_ONCE_S, FIRST, KIND, a_player, a_round, ladders
from tests.reach.slow_posterior import SlowModel

SHUFFLED = LadderHabit(step_bpm=4.0, below_edge_bpm=12.0, is_shuffled=True)


def fit(rounds, *, as_of=None, kind=KIND, **options):
    """Fit rounds as of their last day."""
    last = max(each.day for each in rounds)
    return fit_hand(rounds, kind=kind, as_of=as_of or last, **options)


def width(interval):
    """Return the width of an interval."""
    return interval.high80 - interval.low80


def same(one, other):
    """Whether two reaches are the same bit for bit."""
    if not all(
        np.array_equal(getattr(one.draws, each.name), getattr(other.draws, each.name))
        for each in fields(Draws)
    ):
        return False
    bare = [repr(replace(each, draws=None, known=())) for each in (one, other)]
    return bare[0] == bare[1]


@pytest.mark.parametrize("law", LAWS)
def test_the_answer_is_that_of_slow_chains(law):
    """Median and bounds of 60 s and 240 s are those of Metropolis chains, within 0.3 bpm."""
    rounds = ladders(a_player(law), 6, seed=1)
    reach = fit(rounds, laws=(law,), recovery_s=AT_ONCE_S)
    slow = SlowModel(rounds, law)
    states = slow.draw(seed=11, steps=800, burn_in=300, near_bpm=95.0)
    for time_s in (60.0, 240.0):
        told = reach.tempo_held_bpm(time_s)
        slowly = np.quantile(slow.tempo_held_bpm(states, time_s, seed=5), [0.1, 0.5, 0.9])
        assert [told.low80, told.median, told.high80] == pytest.approx(slowly, abs=0.3)


@pytest.mark.parametrize("law", LAWS)
def test_a_planted_hand_is_found(law):
    """Three players of 20 ladders: within 1.5 for a minute, 2 for four, most bounds right."""
    inside = []
    for seed in (21, 22, 23):
        player = a_player(law, minute_bpm=80.0 + 10.0 * (seed - 21), recovery_s=40.0)
        reach = fit(ladders(player, 20, seed=seed))
        for time_s, allowed_bpm in ((60.0, 1.5), (240.0, 2.0)):
            told, true_bpm = reach.tempo_held_bpm(time_s), player.tempo_held_bpm(time_s)
            assert told.median == pytest.approx(true_bpm, abs=allowed_bpm)
            inside.append(told.low80 <= true_bpm <= told.high80)
    assert sum(inside) >= 4


def test_a_planted_gain_is_found():
    """Of 60 days with 6 a month the gain is found within 2; of a flat hand, within 2 of none."""
    for gain_bpm in (6.0, 0.0):
        player = a_player(gain_bpm_per_month=gain_bpm, day_form_bpm=1.0)
        reach = fit(ladders(player, range(0, 60, 2), seed=31))
        assert reach.trend_bpm_per_month().median == pytest.approx(gain_bpm, abs=2.0)
        improved = reach.probability_improved(FIRST)
        assert improved > 0.99 if gain_bpm else 0.02 < improved < 0.98


def test_a_long_chart_tells_the_law():
    """Of a month of full ladders a hyperbola and a logarithm are told apart by weight and score."""
    for law in ("hyperbolic", "log-linear"):
        player = a_player(law, short_lead_bpm=10.0)
        reach = fit(ladders(player, 30, seed=32), recovery_s=AT_ONCE_S)
        weights = {each.law: each.weight for each in reach.laws}
        scores = {each.law: each.held_out_score for each in reach.laws}
        other = "log-linear" if law == "hyperbolic" else "hyperbolic"
        assert weights[other] < 0.05
        assert scores[law] > scores[other]
        assert reach.law != other
        assert sum(weights.values()) == pytest.approx(1.0)


def test_more_rounds_make_the_answer_sharper():
    """Five or twenty days have bounds less than half as wide as one day, and one day than none."""
    player = a_player()
    widths = [
        width(fit(ladders(player, days, seed=33)).tempo_held_bpm(60.0)) for days in (1, 5, 20)
    ]
    assert widths[0] > 2.0 * max(widths[1:])
    assert widths[0] < width(expect_of_nobody(KIND, as_of=FIRST).tempo_held_bpm(60.0))


def test_one_round_leans_on_what_is_believed():
    """One round held for 30 s at 100 draws the prior towards it, with wide bounds and a note."""
    reach = fit([a_round(tempo_bpm=100.0, held=50)])
    minute = reach.tempo_held_bpm(60.0)
    assert NOBODY_KNOWN.minute_bpm < minute.median < 100.0
    assert width(minute) > 5.0
    assert any(note.startswith("Only 1 round") for note in reach.notes)
    assert (reach.rounds, len(reach.days)) == (1, 1)


def test_all_held_has_no_upper_end():
    """Every round held: at least what was held, far more open above, and a note."""
    rounds = [
        a_round(day, order, tempo_bpm=bpm, held=bpm, on=True)
        for day in range(5)
        for order, bpm in enumerate((70, 80, 90))
    ]
    reach = fit(rounds)
    minute = reach.tempo_held_bpm(60.0)
    assert minute.low80 > 86.0
    assert minute.high80 - 90.0 > 5.0
    assert any("how much higher it goes is a guess" in note for note in reach.notes)


def test_none_held_is_told_below_what_was_lost():
    """No round held: the minute lies under every tempo that was lost, with a note."""
    rounds = [
        a_round(day, order, tempo_bpm=bpm, held=held)
        for day in range(5)
        for order, (bpm, held) in enumerate(((100, 40 + day), (104, 25 - day), (108, 16 + day)))
    ]
    reach = fit(rounds)
    assert reach.tempo_held_bpm(60.0).high80 < 100.0
    assert any("how much lower it begins is a guess" in note for note in reach.notes)


def test_contradictory_rounds_do_not_break_the_answer():
    """A minute at 140 and a loss at once at 60, in a chart of ladders, move it by less than 1."""
    rounds = ladders(a_player(), 10, seed=34)
    odd = [
        a_round(9, 50, tempo_bpm=140.0, held=140, on=True),
        a_round(9, 51, tempo_bpm=60.0, held=0),
    ]
    plain, odder = fit(rounds), fit(rounds + odd)
    assert odder.tempo_held_bpm(60.0).median == pytest.approx(
        plain.tempo_held_bpm(60.0).median, abs=1.0
    )


def test_contradictions_alone_are_answered_with_wide_bounds():
    """A chart of nothing else still has finite answers, wide ones."""
    rounds = [
        a_round(day, order, tempo_bpm=bpm, held=held, on=on)
        for day in range(4)
        for order, (bpm, held, on) in enumerate(((120, 120, True), (70, 1, False)))
    ]
    reach = fit(rounds)
    for time_s in (10.0, 60.0, 240.0):
        told = reach.tempo_held_bpm(time_s)
        assert all(map(math.isfinite, vars(told).values()))
        assert width(told) > 2.0


def test_years_without_a_round_leave_the_older_ones_out():
    """A chart of long ago changes nothing but the notes."""
    new = ladders(a_player(), range(1500, 1506), seed=35)
    old = ladders(a_player(minute_bpm=70.0), 6, seed=36)
    alone, both = fit(new), fit(old + new)
    assert same(replace(alone, notes=()), replace(both, notes=()))
    assert any("too long ago" in note for note in both.notes)


def test_rounds_after_the_day_told_of_are_left_out():
    """The answer of an earlier day is the one that day would have given, with a note."""
    rounds = ladders(a_player(gain_bpm_per_month=9.0), 12, seed=37)
    then = FIRST + timedelta(days=7)
    early = [each for each in rounds if each.day <= then]
    told, late = fit(early), fit(rounds, as_of=then)
    assert same(replace(told, notes=()), replace(late, notes=()))
    assert any(f"after {then} left out" in note for note in late.notes)


def test_another_surface_is_never_mixed_in():
    """Rounds on another surface on other days change nothing; a kind of its own has its own."""
    snare = replace(KIND, surface="snare")
    mine = ladders(a_player(), range(0, 12, 2), seed=38)
    other = ladders(a_player(minute_bpm=120.0), range(1, 12, 2), seed=39, kind=snare)
    last = FIRST + timedelta(days=12)
    assert same(fit(mine, as_of=last), fit(mine + other, as_of=last))
    own = fit(mine + other, as_of=last, kind=snare)
    assert own.tempo_held_bpm(60.0).median == pytest.approx(120.0, abs=3.0)


def test_without_a_round_there_is_no_answer():
    """No round of the kind: an error in one sentence."""
    with pytest.raises(NotIdentifiable, match="no round of this hand"):
        fit([a_round(kind=replace(KIND, hand="right"))])


def test_a_hundred_thousand_rounds_are_answered():
    """Of 1000 days of 100 rounds the window is taken, and the answer comes."""
    rng = np.random.default_rng(40)
    rounds = []
    for day in range(1000):
        form = rng.normal(0.0, 1.5)
        for order in range(100):
            tempo_bpm = 88.0 + 2.0 * (order % 10)
            hold_s = 60.0 * math.exp(rng.normal(0.0, 0.2) + (95.0 + form - tempo_bpm) / 4.0)
            held = int(min(hold_s, 60.0) * tempo_bpm / 60.0)
            on = hold_s >= 60.0
            rounds.append(a_round(day, order, tempo_bpm=tempo_bpm, held=held, on=on, rest_s=600.0))
    begun = time.perf_counter()
    reach = fit(rounds)
    print(f"100,000 rounds: {time.perf_counter() - begun:.2f} s")
    assert reach.rounds <= 6000
    assert reach.tempo_held_bpm(60.0).median == pytest.approx(95.0, abs=1.5)
    assert any("too many, to tell of today" in note for note in reach.notes)


def test_a_long_pause_widens_the_answer():
    """Two months after the last round the bounds are wider; a year after, they tell of that day."""
    rounds = ladders(a_player(gain_bpm_per_month=0.0), 10, seed=41)
    last = rounds[-1].day
    now, later, long_after = (
        fit(rounds, as_of=last + timedelta(days=days)) for days in (0, 60, 365)
    )
    assert width(later.tempo_held_bpm(60.0)) > 1.5 * width(now.tempo_held_bpm(60.0))
    assert now.notes == later.notes == ()
    assert long_after.as_of == last + timedelta(days=60)
    assert same(later, replace(long_after, notes=()))
    assert any("what has changed since is not known" in note for note in long_after.notes)


@pytest.mark.parametrize(
    ("hand", "places", "factor"), [("left", 3, 0.75), ("alternating", 8, 1.0), ("left", 6, 1.5)]
)
def test_tempos_come_back_in_counts_of_the_kind(hand, places, factor):
    """The same strokes a second of a hand, counted otherwise, give the same strokes a second."""
    kind = HandKind(hand, None, "pad", None, places)
    rounds = ladders(a_player(), 8, seed=42)
    other = [
        replace(
            each,
            kind=kind,
            tempo_bpm=each.tempo_bpm / factor,
            count_held=round(each.count_held / factor),
        )
        for each in rounds
    ]
    told, counted = fit(rounds), fit(other, kind=kind)
    for time_s in (60.0, 240.0):
        one, two = told.tempo_held_bpm(time_s), counted.tempo_held_bpm(time_s)
        assert two.median * factor == pytest.approx(one.median, abs=0.4)
    assert counted.highest_seen_bpm * factor == pytest.approx(told.highest_seen_bpm)
    assert counted.days[0].level.median * factor == pytest.approx(
        told.days[0].level.median, abs=0.4
    )


def test_order_does_not_matter_and_the_same_gives_the_same():
    """Shuffled rounds, and the same rounds again, give the same answer bit for bit."""
    rounds = ladders(a_player(recovery_s=40.0), 8, seed=43, habit=SHUFFLED)
    mixed = list(rounds)
    random.Random(44).shuffle(mixed)
    first = fit(rounds)
    assert same(first, fit(rounds))
    assert same(first, fit(mixed))


def test_recovery_is_told_of_shuffled_ladders_alone():
    """Only where slower rounds follow faster ones does the chart tell how the hand comes back."""
    player = a_player(recovery_s=40.0)
    assert not fit(ladders(player, 8, seed=45)).recovery_is_told
    shuffled = ladders(player, 20, seed=45, habit=SHUFFLED)
    assert fit(shuffled).recovery_is_told
    assert not fit(shuffled, recovery_s=40.0).recovery_is_told


def test_a_longer_recovery_would_mean_a_better_fresh_hand():
    """The tempo told rises, or stays, as the time of recovery that is taken for granted grows."""
    player = a_player(recovery_s=40.0)
    habit = replace(SHUFFLED, rest_s=20.0)
    reach = fit(ladders(player, 12, seed=46, habit=habit), recovery_s=40.0)
    assert [each.recovery_s for each in reach.recovery] == [20.0, 40.0, 80.0]
    minutes = [each.minute_bpm for each in reach.recovery]
    assert minutes[0] < minutes[1] < minutes[2]
    assert minutes[1] == pytest.approx(reach.tempo_held_bpm(60.0).median, abs=0.8)


def test_days_are_told_with_trend_and_form():
    """A day planted 6 over the others stands well over the trend; the trend hardly follows."""
    rounds = ladders(a_player(day_form_bpm=0.5, gain_bpm_per_month=0.0), 15, seed=47)
    high = FIRST + timedelta(days=7)
    moved = [
        replace(each, tempo_bpm=each.tempo_bpm + 6.0, count_held=each.counts + 6)
        if each.day == high and each.held_on
        else replace(each, tempo_bpm=each.tempo_bpm + 6.0)
        if each.day == high
        else each
        for each in rounds
    ]
    reach = fit(moved)
    day = {each.day: each for each in reach.days}
    assert len(day) == 15
    assert max(reach.days, key=lambda each: each.form_bpm.median).day == high
    assert day[high].form_bpm.low80 > 1.0
    assert abs(day[high].level.median - day[FIRST].level.median) < 2.0
    assert day[high].own_bpm > day[high].level.median + 3.0


def test_trend_and_form_add_up_to_the_day():
    """On every day they sum to the most probable tempo of that day, in counts of the kind."""
    kind = replace(KIND, places_per_count=3)
    rounds = [replace(each, kind=kind) for each in ladders(a_player(), 12, seed=49)]
    reach = fit(rounds, kind=kind)
    (known,) = [each for each in reach.known if each.law == reach.law]
    summed = [each.level.median + each.form_bpm.median for each in reach.days]
    assert summed == pytest.approx(known.day_bpm / 0.75, abs=1e-6)
    assert all(width(each.form_bpm) > 0.0 for each in reach.days)


def test_what_was_seen_is_told():
    """Longest hold, highest tempo, first and last day are those of the rounds."""
    rounds = ladders(a_player(), 5, seed=48)
    reach = fit(rounds)
    assert reach.longest_held_s == pytest.approx(60.0, abs=0.7)
    assert reach.highest_seen_bpm == max(each.tempo_bpm for each in rounds)
    assert (reach.first_day, reach.last_day) == (FIRST, FIRST + timedelta(days=4))
    assert reach.rounds == len(rounds)


@pytest.mark.parametrize(
    ("law", "days", "habit"),
    [("hyperbolic", 10, None), ("top rate", 20, SHUFFLED), ("log-linear", 15, None)],
)
def test_going_on_from_a_fit_is_nearly_fitting_anew(law, days, habit):
    """After one round more: tempos within 0.2, chances within 2 points of a full fit."""
    player = a_player(law, recovery_s=30.0)
    options = {} if habit is None else {"habit": habit}
    rounds = ladders(player, days, seed=50, **options)
    before = fit(rounds[:-1], as_of=rounds[-1].day)
    quick, anew = refit_hand(before, rounds, as_of=rounds[-1].day), fit(rounds)
    for time_s in (60.0, 240.0):
        one, two = quick.tempo_held_bpm(time_s), anew.tempo_held_bpm(time_s)
        assert one.median == pytest.approx(two.median, abs=0.2)
    for tempo_bpm in (92.0, 95.0, 98.0):
        asked = {"tempo_bpm": tempo_bpm, "time_s": 60.0}
        assert quick.chance_of_holding(**asked) == pytest.approx(
            anew.chance_of_holding(**asked), abs=0.02
        )
    assert (quick.rounds, quick.days[-1].day) == (anew.rounds, anew.days[-1].day)
    assert quick.law == before.law


def test_going_on_takes_a_new_day():
    """A first round of a new day is taken in, and moves the answer as a full fit would."""
    rounds = ladders(a_player(), 8, seed=51)
    more = [*rounds, a_round(9, tempo_bpm=104.0, held=104, on=True)]
    before = fit(rounds)
    quick, anew = refit_hand(before, more, as_of=more[-1].day), fit(more)
    assert len(quick.days) == 9
    assert quick.tempo_held_bpm(60.0).median == pytest.approx(
        anew.tempo_held_bpm(60.0).median, abs=0.2
    )


def test_nobody_is_told_by_the_prior():
    """Without a round: no days, laws alike, the prior's tempo and spread, and a note."""
    reach = expect_of_nobody(KIND, as_of=FIRST)
    minute = reach.tempo_held_bpm(60.0)
    assert (reach.rounds, reach.days, reach.first_day) == (0, (), None)
    assert [each.weight for each in reach.laws] == pytest.approx([1 / 3] * 3)
    assert minute.median == pytest.approx(NOBODY_KNOWN.minute_bpm, abs=1.0)
    assert width(minute) == pytest.approx(2 * 1.2816 * NOBODY_KNOWN.minute_sd_bpm, rel=0.06)
    assert reach.notes == (
        "Nothing was heard of this hand: this is what is believed of anybody's.",
    )


def _far_from_belief():
    """Charts of hands far from what is believed of anybody's, by name: rounds, and the truth."""
    wide = LadderHabit(lowest_bpm=30, highest_bpm=180, step_bpm=4, below_edge_bpm=6)
    fast = ladders(a_player("log-linear", minute_bpm=130.0), 6, seed=1, habit=wide)
    both = ((120, 120, True), (70, 1, False))
    return {
        "70 is always lost at count 10": (
            [a_round(day, tempo_bpm=70, held=10) for day in range(4)],
            60.2,
        ),
        "140 is always lost at count 60": (
            [a_round(day, tempo_bpm=140, held=60) for day in range(4)],
            134.0,
        ),
        "a slow hand": (ladders(a_player(minute_bpm=45.0), 6, seed=1, habit=wide), 45.0),
        "a fast hand and a slip": ([*fast, a_round(5, 80, tempo_bpm=60, held=5)], 130.0),
        "120 held, 70 lost at once": (
            [
                a_round(day, order, tempo_bpm=tempo_bpm, held=held, on=on)
                for day in range(6)
                for order, (tempo_bpm, held, on) in enumerate(both)
            ],
            122.0,
        ),
    }


@pytest.mark.parametrize("name", _far_from_belief())
def test_a_hand_far_from_belief_is_found(name):
    """Rounds outweigh belief, although far from it they all look like slips."""
    rounds, minute_bpm = _far_from_belief()[name]
    reach = fit_hand(rounds, kind=KIND, as_of=max(each.day for each in rounds))
    assert reach.tempo_held_bpm(60.0).median == pytest.approx(minute_bpm, abs=3.0)
