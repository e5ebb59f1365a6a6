"""The ladder of tempos against the arithmetic of the trade."""

from fractions import Fraction

import pytest

from loosehand.click.track import round_clicks
from loosehand.parts.grid import steady_tempo, strokes_per_second

LADDER_BPM = range(60, 141, 5)


@pytest.mark.published(
    source="closed form: counts a minute times 4 strokes a count over 60 s",
    locator="sixteenths at 60, 105 and 140",
    kind="analytic",
)
@pytest.mark.parametrize(("tempo_bpm", "printed"), [(60, "4.00"), (105, "7.00"), (140, "9.33")])
def test_strokes_a_second(tempo_bpm, printed):
    """Sixteenths with every place played: 4.00, 7.00 and 9.33 strokes a second."""
    assert f"{float(strokes_per_second(Fraction(tempo_bpm), places_per_count=4)):.2f}" == printed


@pytest.mark.published(
    source="common practice, no source",
    locator="the common ladder: 60 to 140 by 5",
    kind="common-practice",
)
def test_the_common_ladder():
    """60 to 140 by 5 has 17 tempos, each a third of a stroke a second above the one before."""
    rates = [strokes_per_second(Fraction(bpm), places_per_count=4) for bpm in LADDER_BPM]
    assert len(rates) == 17
    assert rates == [4 + Fraction(rung, 3) for rung in range(17)]


@pytest.mark.published(
    source="common practice, no source",
    locator="a round of one minute",
    kind="common-practice",
)
def test_a_minute_at_sixty_is_sixty_counts():
    """Sixty counts at 60 begin within the minute, and count 61 begins with the next."""
    tempo = steady_tempo(Fraction(60))
    clicks = round_clicks(tempo, counts=61, count_in_counts=0, counts_per_bar=4)
    assert [click.count for click in clicks if click.at_s < 60] == list(range(1, 61))
    assert clicks[60].at_s == 60
