"""What the tiers draw."""

import numpy as np
import pytest

from loosehand.errors import BadNotation
from loosehand.players.drums import DRUM_KINDS
from loosehand.players.recipe import TIERS, draw_recipe

RECIPES = {
    tier: [draw_recipe(tier, np.random.default_rng(seed)) for seed in range(150)] for tier in TIERS
}


def middle(tier, value):
    """Median of a value over a tier's recipes, where it is there."""
    found = [value(recipe) for recipe in RECIPES[tier]]
    return np.median([one for one in found if one is not None])


@pytest.mark.parametrize(
    "value",
    [
        lambda recipe: recipe.room.tail_db,
        lambda recipe: recipe.noise.pink_db,
        lambda recipe: recipe.bleed and recipe.bleed.level_db,
    ],
    ids=["room", "noise", "bleed"],
)
def test_each_tier_is_harder_than_the_one_before(value):
    """Room, noise and bleed rise from tier to tier."""
    assert middle("clean_pad", value) < middle("home_phone", value) < middle("hard", value)


def test_a_clean_take_has_no_trouble():
    """Nobody speaks, nothing pumps, nothing is clipped."""
    for recipe in RECIPES["clean_pad"]:
        assert recipe.speech is None
        assert recipe.pumping is None
        assert recipe.peak_dbfs < 0


def test_a_hard_take_has_bleed_as_loud_as_strokes():
    """The click is there in every hard take, 6 dB under to 8 dB over a stroke."""
    levels = [recipe.bleed.level_db for recipe in RECIPES["hard"]]
    assert -6.0 <= min(levels) < 0 < max(levels) <= 8.0


def test_hard_takes_are_spoken_over_pumped_clipped_and_short_of_bits():
    """Each trouble of the tier is there in a good share of its takes."""
    recipes = RECIPES["hard"]
    assert np.mean([recipe.speech is not None for recipe in recipes]) > 0.4
    assert np.mean([recipe.pumping is not None for recipe in recipes]) > 0.5
    assert np.mean([recipe.peak_dbfs > 0 for recipe in recipes]) > 0.15
    assert np.mean([0 < recipe.file.bit_rate <= 48_000 for recipe in recipes]) > 0.5


def test_every_drum_and_rate_comes_up():
    """All drums, all the usual sample rates and one and two channels are drawn."""
    recipes = [recipe for drawn in RECIPES.values() for recipe in drawn]
    assert {recipe.drum_kind for recipe in recipes} == set(DRUM_KINDS)
    rates = {recipe.file.sample_rate_hz for recipe in recipes}
    assert rates == {16000, 22050, 32000, 44100, 48000}
    assert {recipe.file.channels for recipe in recipes} == {1, 2}


def test_an_unknown_tier_is_refused():
    """The message names the tiers there are."""
    with pytest.raises(BadNotation, match="want one of clean_pad, home_phone, hard"):
        draw_recipe("easy", np.random.default_rng(1))
