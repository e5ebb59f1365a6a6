"""What one hand plays over a tune, as stretches and rests."""

import numpy as np
import pytest

from loosehand.parts.text import parse_part
from loosehand.parts.unroll import unrolled
from loosehand.rounds.hand_load import fast_stretch, hand_load, stretches_of

HEAD = "tempo: 120\nmeter: 4/4\ngrid: 4\n"
FULL = "xxxx xxxx xxxx xxxx"


def a_line(body, limb="right hand", head=HEAD):
    """The line of a limb of a part."""
    return hand_load(unrolled(parse_part(head + body)), limb)


def rows(stretches):
    """Stretches as (length, rate, section)."""
    table = zip(
        stretches.length_s.round(6).tolist(),
        stretches.rate_bpm.tolist(),
        stretches.section.tolist(),
        strict=True,
    )
    return list(table)


def test_a_run_is_one_stretch_and_takes_its_bars():
    """Eight bars of sixteenths at 120 are 16 s at 120, however often they are repeated."""
    line = a_line(f"[verse] x8\nRH hat {FULL}")
    assert rows(stretches_of(line)) == [(16.0, 120.0, 0)]
    assert fast_stretch(stretches_of(line)) == pytest.approx((16.0, 120.0))


def test_a_gap_of_a_count_and_more_is_a_rest():
    """The last stroke before it takes as long as the one before."""
    line = a_line(f"[verse]\nRH hat {FULL} | .... .... xxxx xxxx\n[rest]\nrest 1\n")
    expected = [(2.0, 120.0, 0), (1.0, 0.0, 0), (1.0, 120.0, 0), (2.0, 0.0, 1)]
    assert rows(stretches_of(line)) == expected


def test_a_bar_is_taken_at_its_mean_rate():
    """Sixteenths for two counts and eighths for two are three quarters of the rate."""
    line = a_line("[verse] x2\nRH hat xxxx xxxx x.x. x.x.")
    assert rows(stretches_of(line)) == [(4.0, 90.0, 0)]


def test_tempo_changes_and_triplets_are_told_in_sixteenths():
    """Triplets at 120 are 90 of sixteenths; at 60 half of that."""
    head = "tempo: 120\nmeter: 4/4\ngrid: 3\n"
    line = a_line(
        "[fast]\nRH ride xxx xxx xxx xxx\n[slow] tempo 60\nRH ride xxx xxx xxx xxx", head=head
    )
    assert rows(stretches_of(line)) == [(2.0, 90.0, 0), (4.0, 45.0, 1)]


def test_swing_changes_nothing_over_a_bar():
    """The second of a pair comes late, and the bar is as long as ever."""
    line = a_line(f"[verse] x4\nRH hat {FULL}", head=HEAD + "swing: 60\n")
    assert stretches_of(line).length_s.sum() == pytest.approx(8.0)
    assert stretches_of(line).rate_bpm == pytest.approx(120.0, rel=0.02)


def test_all_of_the_tune_is_in_the_stretches():
    """Runs and rests fill the time without gap or overlap."""
    line = a_line(
        f"[intro]\nrest 1\n[a] x3\nRH hat {FULL} | x... .... .... x.x.\n"
        f"[b]\nrest 2\n[c]\nRH hat {FULL}\n"
    )
    found = stretches_of(line)
    assert found.start_s[0] == 0.0
    assert np.allclose(found.start_s[1:], (found.start_s + found.length_s)[:-1], atol=1e-6)
    assert found.start_s[-1] + found.length_s[-1] == pytest.approx(line.end_s)
    assert sorted(set(found.section.tolist())) == [0, 1, 2, 3]


def test_strokes_left_out_halve_the_rate():
    """Every second stroke of the bar is half the rate."""
    line = a_line(f"[verse] x2\nRH hat {FULL}")
    plays = (line.order % 2 == 0) | (line.bar == 0)
    assert rows(stretches_of(line, plays=plays)) == [(2.0, 120.0, 0), (2.0, 60.0, 0)]


def test_techniques_go_by_section():
    """Each stretch has the technique of its section."""
    line = a_line(f"[a]\nRH hat {FULL}\n[b]\nRH hat {FULL}\n[a again]\nRH hat {FULL}")
    found = stretches_of(line, technique=np.array([0, 2, 0]))
    assert found.technique.tolist() == [0, 2, 0]


def test_sections_and_accents_are_kept():
    """Bars are counted through, accents stand where they are written."""
    line = a_line("[a] x2\nRH hat Xxxx Xxxx xxxx xxxx\n[b] f\nRH hat xxxx xxxx xxxx xxxX")
    assert [(each.name, each.first_bar, each.bars) for each in line.sections] == [
        ("a", 0, 2),
        ("b", 2, 1),
    ]
    assert np.flatnonzero(line.is_accent).tolist() == [0, 4, 16, 20, 47]
    assert line.bar_start_s.tolist() == [0.0, 2.0, 4.0]
    assert line.bar_eighths.tolist() == [8.0, 8.0, 8.0]


def test_the_fast_stretch_leaves_out_what_is_slower():
    """Bars of eighths are no part of it, a bar of fifteen sixteenths is; rests part it."""
    line = a_line(
        f"[a] x2\nRH hat {FULL} | xxxx xxxx xxxx xxx.\n[b] x9\nRH hat x.x. x.x. x.x. x.x.\n"
        f"[c]\nRH hat {FULL}\n[d]\nrest 1\n[e] x3\nRH hat {FULL}\n"
    )
    assert fast_stretch(stretches_of(line)) == pytest.approx((8.0, 120.0 * 62 / 64))


def test_a_limb_without_a_stroke_rests_throughout():
    """No run, and one rest as long as the tune."""
    line = a_line("[a]\nRF kick x... x... x... x...")
    assert fast_stretch(stretches_of(line)) == (0.0, 0.0)
    assert rows(stretches_of(line)) == [(2.0, 0.0, 0)]
