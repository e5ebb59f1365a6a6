"""Swing as drummers were measured to play it, against what is told of a part."""

import pytest

from loosehand.parts.part import SWING_LIMITS_PERCENT
from loosehand.parts.swing import (
    CLEARLY_SHORT_MS,
    kept_swing_percent,
    long_to_short,
    swing_line,
    swung_sections,
)
from loosehand.parts.text import parse_part

FRIBERG = (
    "Friberg, A., Sundström, A. (2002), Swing ratios and ensemble timing in jazz performance: "
    "Evidence for a common rhythmic pattern, Music Perception 19(3):333-349"
)
HONING = (
    "Honing, H., de Haas, W. B. (2008), Swing once more: Relating timing and tempo in expert jazz "
    "drumming, Music Perception 25(5):471-476"
)


def eighths(tempo_bpm, swing):
    """The section of a part of swung eighths on the ride."""
    text = f"tempo: {tempo_bpm}\nmeter: 4/4\ngrid: 2\nswing: {swing}\nRH ride xx xx xx xx\n"
    return swung_sections(parse_part(text))


def kept_ratio(tempo_bpm):
    """Long to short of the swing that we say would be as measured, for a pair of eighths."""
    return long_to_short(kept_swing_percent(60_000 / tempo_bpm))


@pytest.mark.published(
    source=FRIBERG,
    locator="abstract: short note constant at about 100 ms at medium to fast tempos",
    kind="printed",
)
@pytest.mark.parametrize("tempo_bpm", [160, 180, 200, 220, 240, 260, 280])
def test_the_swing_we_name_keeps_the_short_note(tempo_bpm):
    """Played with the swing that is named, the short eighth lasts 100 ms, to half a percent."""
    pair_ms = 60_000 / tempo_bpm
    (section,) = eighths(tempo_bpm, kept_swing_percent(pair_ms))
    assert section.short_ms == pytest.approx(100.0, abs=0.005 * pair_ms)
    assert not section.is_clearly_short


@pytest.mark.published(
    source=FRIBERG,
    locator="abstract: as high as 3.5:1 at slow tempos, 1:1 at fast ones, 2:1 at a certain tempo",
    kind="printed",
)
def test_the_ratio_runs_between_the_measured_ones():
    """From 40 to 400 the ratio we name falls from 3.5 to 1 and passes 2 once."""
    ratios = [kept_ratio(tempo_bpm) for tempo_bpm in range(40, 401)]
    assert ratios == sorted(ratios, reverse=True)
    assert ratios[0] == pytest.approx(3.5, abs=0.05)
    assert ratios[-1] == 1.0
    near_triplets = [
        tempo
        for tempo, ratio in zip(range(40, 401), ratios, strict=True)
        if abs(ratio - 2.0) < 0.05
    ]
    assert near_triplets
    assert near_triplets[-1] - near_triplets[0] < 10


@pytest.mark.published(
    source=FRIBERG,
    locator="abstract: 2:1 at a certain tempo; with a short note of 100 ms a pair of 300 ms, by us",
    kind="analytic",
)
def test_triplets_keep_the_short_note_at_one_tempo():
    """At 200 quarters a minute swung eighths of 2:1 have a short note of 100 ms."""
    assert kept_ratio(200) == pytest.approx(2.0, abs=0.05)
    (section,) = eighths(200, 67)
    assert section.short_ms == pytest.approx(99.0)


@pytest.mark.published(
    source=FRIBERG,
    locator="abstract: swing ratio as high as 3.5:1",
    kind="printed",
)
def test_no_part_swings_further_than_was_measured():
    """The largest swing that a part may have lies within the measured ratio."""
    assert long_to_short(SWING_LIMITS_PERCENT[1]) <= 3.5


@pytest.mark.published(
    source=HONING,
    locator="abstract: the swing ratio is not kept constant but adapted to the tempo",
    kind="printed",
)
@pytest.mark.parametrize(("slow_bpm", "fast_bpm"), [(140, 180), (180, 220), (220, 280)])
def test_the_ratio_is_not_kept_over_tempos(slow_bpm, fast_bpm):
    """What we name for a faster tempo is a smaller ratio."""
    assert kept_ratio(fast_bpm) < kept_ratio(slow_bpm) - 0.2


@pytest.mark.published(
    source=FRIBERG,
    locator="abstract: about 100 ms; clearly short below 80 ms is ours",
    kind="printed",
)
@pytest.mark.parametrize(
    ("tempo_bpm", "swing", "short_ms", "remarked"),
    [
        (120, 67, 165.0, False),
        (200, 67, 99.0, False),
        (240, 67, 82.5, False),
        (260, 70, 69.2, True),
    ],
)
def test_a_swing_is_remarked_only_where_it_was_not_measured(tempo_bpm, swing, short_ms, remarked):
    """Near 100 ms and above nothing is held against a swing; clearly below, the source is named."""
    sections = eighths(tempo_bpm, swing)
    assert sections[0].short_ms == pytest.approx(short_ms, abs=0.05)
    assert (sections[0].short_ms < CLEARLY_SHORT_MS) is remarked
    assert ("Friberg and Sundström 2002" in swing_line(sections)) is remarked
