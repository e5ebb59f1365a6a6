"""The reach drawn in a terminal."""

import copy
import io

import pytest
from rich.console import Console

from loosehand.studio.terminal_chart import draw
from loosehand.studio.terminal_reach import reach_tables

HAND = {
    "player": "Ines",
    "hand": "left",
    "technique": "whip fours",
    "surface": "pad",
    "loudness": None,
    "places_per_count": 4,
    "rounds": 123,
    "tempo_held_bpm": {
        "60": {"median": 101.24, "low80": 99.8, "high80": 102.7},
        "240": {"median": 98.0, "low80": 96.0, "high80": 99.5},
    },
    "trend_bpm_per_month": {"median": 1.26, "low80": -0.2, "high80": None},
    "improved": {"since": "2027-02-01", "probability": 0.834},
    "beyond_seen": ["240"],
    "plateau": False,
    "notes": ["1 round was not judged and left out."],
}
REPORT = {"as_of": "2027-03-01", "hands": [HAND], "notes": ["Of Otto, no answer."]}


def drawn(report, *, width=80):
    """Draw a report."""
    out = io.StringIO()
    draw(Console(width=width, file=out), reach_tables(report))
    return out.getvalue()


def changed(**values):
    """Return the report with some values of its hand changed."""
    report = copy.deepcopy(REPORT)
    report["hands"][0].update(values)
    return report


def test_the_figures_stand_with_their_ranges():
    """Every figure of the table has its range below it, and what has no end says so."""
    text = drawn(REPORT)
    for part in ("Reach of Ines on 2027-03-01", "left, 123 rounds", "whip fours, pad", "101.2"):
        assert part in text
    for part in ("99.8 – 102.7", "+1.3", "-0.2 – no end", "83 %", "1 Feb"):
        assert part in text
    assert "Left, whip fours, pad: 1 round was not judged" in text
    assert text.endswith("Of Otto, no answer.\n")


def test_what_was_not_seen_is_marked():
    """A tempo held longer than anything on the chart has a mark, which is explained."""
    assert "98.0*" in drawn(REPORT)
    assert "101.2*" not in drawn(REPORT)
    assert "beyond what was seen" in drawn(REPORT)
    assert "beyond what was seen" not in drawn(changed(beyond_seen=[]))


@pytest.mark.parametrize(("chance", "said"), [(0.9999, "99 %"), (0.0, "1 %"), (0.5, "50 %")])
def test_nothing_is_certain(chance, said):
    """A chance is never told as certain or as none."""
    asked = {"tempo_bpm": 104.0, "time_s": 240.0, "probability": chance, "beyond_seen": True}
    text = drawn(changed(chance=asked))
    assert f"{said}*" in text
    assert "for 240 s" in text


def test_a_target_is_told_in_words():
    """The chance of getting there by a day, and the day by which half get there if any."""
    target = {"tempo_bpm": 104.0, "time_s": 60.0, "by": "2027-12-01", "probability": 0.7}
    text = " ".join(drawn(changed(target={**target, "median": "2027-09-03"})).split())
    assert "104 for 60 s by 2027-12-01 comes in 70 % of cases, half by 2027-09-03." in text
    text = " ".join(drawn(changed(target={**target, "median": None})).split())
    assert "comes in 70 % of cases. " in text


def test_a_plateau_is_told():
    """A hand that stands still is told so, without a word of praise or blame."""
    assert "It stands still" in drawn(changed(plateau=True))
    assert "It stands still" not in drawn(REPORT)


def test_players_stand_apart():
    """Each player has a table; a grid other than fours is named; lines fit."""
    report = copy.deepcopy(REPORT)
    report["hands"].append({**HAND, "player": "Otto", "places_per_count": 8, "notes": []})
    text = drawn(report)
    assert text.index("Reach of Ines") < text.index("Reach of Otto")
    assert "8 places a" in text
    assert max(map(len, text.splitlines())) <= 80
