"""The trend as a picture: a line, a band, and the form of each day."""

import itertools
import re
from dataclasses import replace
from datetime import date, timedelta

from loosehand.web.plots.reach_trend import Trend, TrendDay, draw_trend
from tests.web.plots.reach_pictures import drawn, moves, of_class, words_in

FIRST = date(2027, 1, 20)


def days(count, *, every=1):
    """Days of a trend that rises by a tenth a day, each with a form."""
    return tuple(
        TrendDay(
            FIRST + timedelta(days=day * every),
            89.0 + day / 10,
            90.0 + day / 10,
            91.0 + day / 10,
            92.0,
        )
        for day in range(count)
    )


TREND = Trend(days(30), FIRST + timedelta(days=10), "Tempo by day", "It rises.")


def test_each_day_is_a_dot_off_the_line():
    """Thirty days are thirty dots, a line of thirty places and a band of sixty."""
    tree = drawn(draw_trend(TREND))
    assert moves(tree, "form") == 30
    assert of_class(tree, "curve")[0].get("d").count("L") == 29
    assert of_class(tree, "band")[0].get("d").count("L") == 59


def test_a_rise_goes_up():
    """The line ends above where it began."""
    path = of_class(drawn(draw_trend(TREND)), "curve")[0].get("d")
    places = [tuple(map(float, place.split())) for place in path[1:].split("L")]
    assert places[-1][1] < places[0][1]
    assert places[-1][0] > places[0][0]


def test_a_day_without_rounds_has_no_dot():
    """The line goes on to today; only days that were played have a dot."""
    today = TrendDay(FIRST + timedelta(days=40), 92.0, 94.0, 96.0, None)
    tree = drawn(draw_trend(replace(TREND, days=(*TREND.days, today))))
    assert moves(tree, "form") == 30
    assert of_class(tree, "curve")[0].get("d").count("L") == 30


def test_the_day_compared_with_is_marked():
    """An upright line stands at that day and says so; none where it is out of sight."""
    tree = drawn(draw_trend(TREND))
    assert len(of_class(tree, "since")) == 1
    assert "compared with 30 January" in words_in(tree)
    early = drawn(draw_trend(replace(TREND, since=FIRST - timedelta(days=30))))
    assert of_class(early, "since") == []


def test_one_day_is_a_dot():
    """A single day has neither line nor band, but a dot."""
    tree = drawn(draw_trend(replace(TREND, days=days(1), since=FIRST)))
    assert of_class(tree, "curve") == of_class(tree, "band") == []
    assert moves(tree, "lost") == 1


def test_years_are_named_by_month():
    """Half a year of days names months, not so many that they overlap."""
    tree = drawn(draw_trend(replace(TREND, days=days(90, every=2))))
    texts = [
        (float(e.get("x")), e.text)
        for e in of_class(tree, "axis-word", "middle")
        if re.match(r"\d+ \w{3}", e.text)
    ]
    assert next(word for _, word in texts) == "1 Feb"
    places = [x for x, _ in texts]
    assert all(b - a >= 58.0 for a, b in itertools.pairwise(places))


def test_tempos_are_named_at_both_ends():
    """Where the picture scrolls, the tempos are in sight at either end."""
    tree = drawn(draw_trend(TREND))
    left = [e.text for e in of_class(tree, "figure-word", "end")]
    right = [e.text for e in of_class(tree, "figure-word", "start")]
    assert left == right != []
