"""The sound of a performance: truth lies where it says."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.players.drums import WORK_RATE_HZ
from loosehand.players.people import draw_player
from loosehand.players.play import TakePlan, nobody, play
from loosehand.players.recipe import FileKind, draw_recipe
from loosehand.players.room import Microphone, Noise, Room
from loosehand.players.sound import place_sound, render

PLAN = TakePlan(96.0, 4, "right", 12, None, None, 0, 4, 4, 1, 0.7, 0.0)
SILENCE = Noise(-110.0, -150.0, -150.0, 50.0, -120.0, -150.0, 500.0, 1)
OPEN = Microphone(1.0, 200e3, 3000.0, 0.0)
OFFSET_S = 0.0123


class Pip:
    """A voice of one smooth pulse, its middle at the onset."""

    def render(self, level_db, rng):
        """Give a pulse of 0.15 ms, its middle 12.3 ms into the samples."""
        at_s = np.arange(2000) / WORK_RATE_HZ - OFFSET_S
        wave = np.exp(-0.5 * (at_s / 0.00015) ** 2)
        return (wave * 0.1 * 10 ** (level_db / 20)).astype(np.float32), OFFSET_S


def bare_recipe(rate=48_000):
    """Give a recipe that adds nothing."""
    recipe = draw_recipe("clean_pad", np.random.default_rng(1))
    return replace(
        recipe,
        bleed=None,
        noise=SILENCE,
        microphone=OPEN,
        room=Room(0.0, 0.0, 0, 5000.0, 1),
        file=FileKind(".wav", rate, 0, 1),
    )


def performance(seed=5, **changes):
    """Play a short round."""
    rng = np.random.default_rng(seed)
    player = draw_player(rng)
    return play(
        replace(player, right=replace(player.right, bounce_share=0.0)),
        replace(PLAN, **changes),
        rng,
    )


def peak_times_s(samples, rate, near_s):
    """Time of the peak near each time, to a fraction of a sample."""
    found = []
    for time_s in near_s:
        begin = round((time_s - 0.004) * rate)
        index = begin + int(np.argmax(samples[begin : begin + round(0.008 * rate)]))
        below, top, above = np.log(np.maximum(samples[index - 1 : index + 2], 1e-9))
        found.append((index + 0.5 * (below - above) / (below - 2 * top + above)) / rate)
    return np.array(found)


@pytest.mark.published(
    source="Truth planted by us", locator="stroke times against rendered sound", kind="simulated"
)
@pytest.mark.parametrize("rate", [16_000, 22_050, 32_000, 44_100, 48_000])
def test_strokes_sound_at_their_true_times(rate):
    """Every stroke's peak lies within 0.02 ms of the truth at every rate."""
    played = performance()
    pips = (Pip(), Pip())
    samples, got = render(played, bare_recipe(rate), np.random.default_rng(2), voices=pips)
    assert got == rate
    error_s = peak_times_s(samples, rate, played.stroke_time_s) - played.stroke_time_s
    assert np.abs(error_s).max() < 0.00002


def test_clicks_sound_at_their_true_times():
    """Every click of the bleed begins at its time: the same sound at each, nothing before."""
    silent = nobody(PLAN)
    recipe = draw_recipe("hard", np.random.default_rng(3))
    dry = Room(0.0, 0.0, 0, 5000.0, 1)
    beep = replace(recipe.bleed.click, kind="wood", downbeat_pitch=1.0, downbeat_db=0.0)
    bleed = replace(recipe.bleed, click=beep, room=dry, speaker_low_hz=20.0, speaker_high_hz=20e3)
    samples, rate = render(silent, replace(bare_recipe(), bleed=bleed), np.random.default_rng(4))
    top = np.abs(samples).max()
    for time_s in silent.click_time_s:
        index = round(time_s * rate)
        assert np.abs(samples[index - 480 : index - 12]).max() < 0.01 * top
        assert np.abs(samples[index : index + 96]).max() > 0.5 * top


def test_a_sound_is_placed_to_a_fraction_of_a_sample():
    """A smooth pulse placed at 100.37 has its middle there; a long one has no seam."""
    into = np.zeros(20_000, dtype=np.float32)
    pulse = np.exp(-0.5 * ((np.arange(200) - 100) / 6.0) ** 2).astype(np.float32)
    place_sound(into, pulse, 100.37)
    middle = np.sum(np.arange(400) * into[:400]) / np.sum(into[:400])
    assert middle == pytest.approx(200.37, abs=3e-3)
    long = np.zeros(20_000, dtype=np.float32)
    slow = np.sin(2 * np.pi * np.arange(9000) / 300).astype(np.float32)
    place_sound(long, slow, 50.5)
    expected = np.sin(2 * np.pi * (np.arange(3000, 6000) - 50.5) / 300)
    assert np.abs(long[3000:6000] - expected).max() < 0.02


def test_what_does_not_fit_is_left_off():
    """A sound that begins before or ends after is cut, not wrapped."""
    into = np.zeros(1000, dtype=np.float32)
    place_sound(into, np.ones(300, dtype=np.float32), -200.0)
    place_sound(into, np.ones(300, dtype=np.float32), 900.0)
    assert np.abs(into[120:880]).max() < 1e-6
    assert into[50] == pytest.approx(1.0, abs=1e-3)


def test_the_same_seed_sounds_the_same():
    """Two renderings of one seed are equal."""
    recipe = draw_recipe("hard", np.random.default_rng(6))
    first, _ = render(performance(), recipe, np.random.default_rng(7))
    again, _ = render(performance(), recipe, np.random.default_rng(7))
    assert np.array_equal(first, again)


def test_peaks_lie_where_the_recipe_says():
    """A take at -12 dBFS peaks there; one at +6 is clipped at full scale."""
    recipe = bare_recipe()
    quiet, _ = render(performance(), replace(recipe, peak_dbfs=-12.0), np.random.default_rng(8))
    assert 20 * np.log10(np.abs(quiet).max()) == pytest.approx(-12.0, abs=0.01)
    loud, _ = render(
        performance(),
        replace(recipe, peak_dbfs=6.0, is_soft_clipped=False),
        np.random.default_rng(8),
    )
    assert np.abs(loud).max() == 1.0
    assert np.count_nonzero(np.abs(loud) >= 0.999) > 3


def test_pumping_brings_loud_and_soft_together():
    """Automatic gain raises the quiet between the strokes against the strokes."""
    recipe = draw_recipe("hard", np.random.default_rng(9))
    while recipe.pumping is None:
        recipe = draw_recipe("hard", np.random.default_rng(recipe.drum_seed))
    played = performance(failure="stop", failure_count=6)
    even = replace(
        bare_recipe(),
        noise=replace(SILENCE, white_db=-40.0),
        pumping=replace(recipe.pumping, strength=0.8, most_db=25.0, release_s=0.3),
    )
    pumped, _ = render(played, even, np.random.default_rng(1))
    plain, _ = render(played, replace(even, pumping=None), np.random.default_rng(1))
    end = slice(round((played.round_end_s - 1.0) * 48_000), None)
    assert np.std(pumped[end]) > 3 * np.std(plain[end])


def test_a_recording_lasts_as_long_as_the_recipe_says():
    """From before the count-in to after the round, or to where it breaks off."""
    played = performance()
    recipe = replace(bare_recipe(), after_s=1.5)
    whole, rate = render(played, recipe, np.random.default_rng(1))
    assert whole.size / rate == pytest.approx(played.round_end_s + 1.5, abs=1e-3)
    cut, _ = render(played, replace(recipe, cut_s=2.0), np.random.default_rng(1))
    assert cut.size == 2 * rate


def test_two_channels_are_two_views_of_one_sound():
    """The sides of a stereo take are the same but for gain and a fraction of a millisecond."""
    recipe = replace(bare_recipe(), file=FileKind(".wav", 48_000, 0, 2))
    samples, _ = render(performance(), recipe, np.random.default_rng(3))
    assert samples.shape[1] == 2
    left, right = (samples[:, side].astype(float) for side in (0, 1))
    best = max(np.corrcoef(left, np.roll(right, shift))[0, 1] for shift in range(-15, 16))
    assert best > 0.99
