"""Whole takes: what is told, what is true, what cannot be judged."""

import numpy as np
import pytest

from loosehand.errors import BadNotation
from loosehand.players.drums import WORK_RATE_HZ
from loosehand.players.performance import FAILURES
from loosehand.players.takes import TAKE_TIERS, UNJUDGEABLE, draw_plan, make_take

PLANS = [draw_plan(np.random.default_rng(seed), round_s=60.0) for seed in range(400)]


def made(kind):
    """Make short takes until one cannot be judged for a reason."""
    for seed in range(60):
        take = make_take("unjudgeable", seed, round_s=6.0)
        if take.kind == kind:
            return take
    raise AssertionError(f"no take was {kind}")


@pytest.mark.parametrize("tier", TAKE_TIERS)
def test_the_same_seed_makes_the_same_take(tier):
    """Two takes of one seed hold the same sound and the same truth; another seed does not."""
    first, again, other = (make_take(tier, seed, round_s=5.0) for seed in (3, 3, 4))
    assert np.array_equal(first.performance.stroke_time_s, again.performance.stroke_time_s)
    assert first.recipe == again.recipe != other.recipe
    if first.suffix == ".wav":
        assert first.coded == again.coded


def test_plans_vary_in_everything():
    """Tempo 60 to 140, every hand, grid, failure and count-in; a quarter is held."""
    tempos = [plan.tempo_bpm for plan in PLANS]
    assert min(tempos) < 64
    assert max(tempos) > 136
    assert {plan.hand for plan in PLANS} == {"left", "right", "alternating"}
    assert {plan.places_per_count for plan in PLANS} == {3, 4, 6, 8}
    assert {plan.count_in_counts for plan in PLANS} == {0, 2, 4, 8}
    assert {plan.downbeat_every for plan in PLANS} == {0, 2, 3, 4}
    assert {plan.failure for plan in PLANS} == {None, *FAILURES}
    assert 0.15 < np.mean([plan.failure is None for plan in PLANS]) < 0.35
    assert all(plan.counts == int(plan.tempo_bpm) for plan in PLANS)


@pytest.mark.published(
    source="Fujii, Kudo, Ohtsuki and Oda (2009), Neuroscience Letters 459(2)",
    locator="abstract: 10 Hz, one hand with a stick, contest winner",
    kind="printed",
)
def test_no_hand_is_asked_for_more_than_a_hand_can():
    """One hand is never asked for more than ten strokes a second."""
    fastest = max(
        plan.tempo_bpm * plan.places_per_count / 60 / (2 if plan.hand == "alternating" else 1)
        for plan in PLANS
    )
    assert 8.0 < fastest <= 10.0


def test_nobody_plays_in_a_take_of_nobody():
    """There is a file and a click, no strokes, and nothing held."""
    take = make_take("nobody", 2, round_s=5.0)
    assert take.kind == "nobody"
    assert take.performance.stroke_time_s.size == 0
    assert take.performance.count_held == 0
    assert len(take.coded) > 1000


def test_every_reason_not_to_judge_is_drawn():
    """All five reasons come up among the takes that cannot be judged."""
    kinds = {make_take("unjudgeable", seed, round_s=3.0).kind for seed in range(40)}
    assert kinds == set(UNJUDGEABLE)


def test_a_take_with_the_wrong_tempo_is_told_another():
    """The tempo told lies 4 to 26 % off the true one."""
    take = made("wrong tempo")
    true_bpm = 60 / take.performance.count_period_s
    assert 0.04 < abs(take.tempo_bpm / true_bpm - 1) < 0.26


def test_a_cut_take_has_less_than_two_counts():
    """It breaks off before the second count is over."""
    take = made("cut off")
    performance = take.performance
    left_s = take.recipe.cut_s - performance.first_count_s
    assert 0 < left_s < 2 * performance.count_period_s
    assert np.all(performance.stroke_time_s < take.recipe.cut_s)


def test_a_buried_take_has_its_strokes_under_the_noise():
    """The noise lies 15 dB and more over the strokes."""
    assert made("buried").recipe.noise.white_db > 15.0


def test_an_inseparable_take_clicks_with_the_sound_of_the_strokes():
    """A click of the drum's own sound, louder than it, on every place."""
    take = made("inseparable")
    performance = take.performance
    assert take.recipe.bleed.click.kind == "drum"
    assert take.recipe.bleed.level_db > 6.0
    assert (
        performance.click_role.count("subdivision")
        == performance.counts_offered * (performance.places_per_count - 1)
        + sum(performance.click_time_s < performance.first_count_s - 1e-9)
        * (performance.places_per_count - 1)
        // performance.places_per_count
    )


class Tap:
    """A voice from elsewhere."""

    def __init__(self):
        """Count the strokes."""
        self.strokes = 0

    def render(self, level_db, rng):
        """Give a tick that begins 10 ms into its samples."""
        self.strokes += 1
        wave = np.zeros(2000, dtype=np.float32)
        wave[480:500] = 0.1 * 10 ** (level_db / 20)
        return wave, 480 / WORK_RATE_HZ


def test_voices_from_elsewhere_can_play():
    """Every stroke of a take is made by the voice that was passed in."""
    tap = Tap()
    take = make_take("clean_pad", 5, round_s=5.0, voices=(tap, tap))
    assert tap.strokes == take.performance.stroke_time_s.size > 0


def test_an_unknown_tier_is_refused():
    """The message names the tiers there are."""
    with pytest.raises(BadNotation, match="want one of clean_pad"):
        make_take("easy", 1)
