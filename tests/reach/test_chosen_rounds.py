"""Which rounds count today, and what is said of the others."""

from dataclasses import replace
from datetime import timedelta

import pytest

from loosehand.errors import NotIdentifiable
from loosehand.reach.chosen_rounds import choose_rounds, notes_of_rounds
from loosehand.reach.hand_data import hand_data
from tests.reach.ladder_hands import FIRST, KIND, a_round

RIGHT = replace(KIND, hand="right")


def chosen(days, *, as_of, more=()):
    """Choose among one round on each of the days."""
    rounds = [a_round(day) for day in days] + list(more)
    return choose_rounds(rounds, kind=KIND, as_of=FIRST + timedelta(days=as_of))


def days_of(found):
    """Return the days of the rounds that were chosen, from the first."""
    return [(each.day - FIRST).days for each in found.rounds]


def test_a_short_chart_counts_whole():
    """Twenty days up to today are all taken, and nothing is said."""
    found = chosen(range(20), as_of=19)
    assert found.told_of == FIRST + timedelta(days=19)
    assert days_of(found) == list(range(20))
    assert found.notes == ()


def test_later_rounds_are_left_out_with_a_note():
    """Rounds after the day told of are left out, and how many."""
    found = chosen(range(10), as_of=7)
    assert days_of(found) == list(range(8))
    assert found.notes == ("2 rounds after 2027-01-11 left out.",)


def test_rounds_before_a_long_gap_are_left_out_with_a_note():
    """After years without a round only those since then count."""
    found = chosen([0, 1, 2, 1000, 1001], as_of=1001)
    assert days_of(found) == [1000, 1001]
    (note,) = found.notes
    assert note.startswith("3 rounds before 2029-09-30 left out")


def test_a_gap_of_four_months_is_none():
    """120 days without a round are within the chart; 121 are not."""
    assert days_of(chosen([0, 120], as_of=120)) == [0, 120]
    assert days_of(chosen([0, 121], as_of=121)) == [121]


def test_the_window_is_the_last_half_year():
    """Of 300 days every day the last 182 count, told from the last day that was played."""
    found = chosen(range(300), as_of=310)
    assert days_of(found) == list(range(118, 300))
    assert any("118 rounds before" in note for note in found.notes)


def test_long_after_the_last_round_an_earlier_day_is_told_of():
    """Until 60 days after the last round the day asked for is told of, then the 60th."""
    near = chosen(range(20), as_of=19 + 60)
    assert near.notes == ()
    assert near.told_of == FIRST + timedelta(days=79)
    for later in (80, 800):
        far = chosen(range(20), as_of=later)
        assert far.told_of == FIRST + timedelta(days=79)
        assert far.notes == (
            "Nothing was played since 2027-01-23: this tells of 2027-03-24, and what has changed "
            "since is not known.",
        )


def test_other_kinds_of_those_days_come_along():
    """Rounds of another hand within the days are kept for the rests; older ones are not."""
    more = [a_round(day, 2, kind=RIGHT) for day in (0, 5, 400, 405, 406)]
    found = chosen([0, 1, 400, 405], as_of=405, more=more)
    assert [(each.kind.hand, (each.day - FIRST).days) for each in found.rounds] == [
        ("left", 400),
        ("left", 405),
        ("right", 400),
        ("right", 405),
    ]


def test_without_a_round_of_the_kind_nothing_can_be_said():
    """No round at all, of another surface only, or only later ones: one sentence, no answer."""
    elsewhere = [a_round(kind=replace(KIND, surface="snare"))]
    for rounds in ([], elsewhere, [a_round(30)]):
        with pytest.raises(NotIdentifiable, match=r"no round of this hand .* up to 2027-01-05"):
            choose_rounds(rounds, kind=KIND, as_of=FIRST + timedelta(days=1))


def test_very_many_rounds_are_cut_by_whole_days():
    """Of 20 days of 1000 rounds no more than 6000 count, whole days, with a note."""
    rounds = [a_round(day, order) for day in range(20) for order in range(1000)]
    found = choose_rounds(rounds, kind=KIND, as_of=FIRST + timedelta(days=19))
    assert len(found.rounds) <= 6000
    assert len(found.rounds) % 1000 == 0
    assert max(days_of(found)) == 19
    assert len(found.notes) == 1


def notes_of(rounds):
    """Return what is said of rounds."""
    return notes_of_rounds(hand_data(rounds, kind=KIND))


def test_few_rounds_are_said_to_lean_on_others():
    """Nine rounds are few, ten are not."""
    mixed = [a_round(0, order, held=order, on=order == 1) for order in range(10)]
    assert notes_of(mixed) == []
    (note,) = notes_of(mixed[:9])
    assert note.startswith("Only 9 rounds:")
    assert any(note.startswith("Only 1 round:") for note in notes_of(mixed[:1]))


def test_charts_of_one_kind_of_round_are_said_to_be_open():
    """All held: how much higher is a guess; none held: how much lower."""
    held = [a_round(0, order, held=100, on=True) for order in range(12)]
    lost = [a_round(0, order, held=10) for order in range(12)]
    assert [note.split(":")[0] for note in notes_of(held)] == ["Every round was held to its end"]
    assert [note.split(":")[0] for note in notes_of(lost)] == ["No round was held to its end"]
