"""Checks of the strokes of days and weeks."""

from loosehand.rounds.load import day_loads, load_caution, strokes_of, week_load
from tests.rounds.plain_hands import TODAY, past


def test_alternating_strokes_are_shared():
    """Sixteenths shared between the hands give each half of them."""
    assert strokes_of(hand="right", counts=100, places_per_count=4) == (0, 400)
    assert strokes_of(hand="alternating", counts=100, places_per_count=4) == (200.0, 200.0)


def test_a_day_counts_what_was_played():
    """Warm-ups count; a lost round counts what was held, or what is known to have been played."""
    history = (
        past(1, hand="alternating", tempo_bpm=60.0, purpose="warm-up"),
        past(1, hand="left", tempo_bpm=100.0, held=30),
        past(1, hand="right", tempo_bpm=100.0, held=30, counts_played=36),
        past(0, hand="right", tempo_bpm=80.0),
    )
    first, second = day_loads(history)
    assert (first.left, first.right) == (120 + 120, 120 + 144)
    assert second.both == 320


def month(*, a_day, days=35):
    """Rounds of the left hand at 80, a day a row, on the days before the last seven."""
    return [past(ago, order=k) for ago in range(7, days) for k in range(a_day)]


def test_a_week_is_held_against_the_four_before():
    """The mean is that of a week in the four weeks before the last seven days."""
    load = week_load(day_loads(month(a_day=2)), today=TODAY, hand="left", planned_strokes=0.0)
    assert load.strokes == 0.0
    assert load.mean == 7 * 2 * 320


def test_a_jump_is_told_and_a_small_one_is_not():
    """Half as much again and more than 3000 strokes is a jump; less of either is none."""
    history = month(a_day=1)  # 2240 strokes a week
    week = [past(ago) for ago in range(7)]
    none = load_caution([*history, *week], today=TODAY, planned_strokes=(800.0, 0.0))
    assert none is None
    jump = load_caution([*history, *week], today=TODAY, planned_strokes=(1200.0, 0.0))
    assert jump is not None
    assert "3440 with the left hand (a week before: 2240)" in jump
    few = [past(ago) for ago in range(8, 35, 7)]  # a round a week
    assert load_caution([*few, *week], today=TODAY, planned_strokes=(700.0, 0.0)) is None


def test_who_has_just_begun_has_no_mean():
    """With fewer than two weeks before the last seven days nothing is a jump."""
    history = [past(ago, order=k) for ago in range(1, 20) for k in range(9)]
    load = week_load(day_loads(history), today=TODAY, hand="left", planned_strokes=9000.0)
    assert load.mean is None
    assert not load.is_jump
    assert week_load((), today=TODAY, hand="left", planned_strokes=1.0).mean is None
