"""An empty studio, and rounds to put on its chart."""

from datetime import UTC, date, datetime

import pytest

from loosehand.hear.heard import ListenRequest
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.hearing import Judged, Told
from loosehand.studio.round_tags import RoundTags
from tests.blank_studio import new_studio

NOW = datetime(2027, 3, 1, 18, 30, tzinfo=UTC)
DAY = date(2027, 3, 1)


@pytest.fixture
def now():
    """Return the moment of the tests."""
    return NOW


@pytest.fixture
def studio(tmp_path):
    """Open an empty studio."""
    opened = new_studio(tmp_path / "studio", busy_timeout_s=0.2)
    yield opened
    opened.close()


@pytest.fixture
def tags():
    """Return the tags of a minute of the left hand at 104."""
    return RoundTags(
        hand="left",
        tempo_bpm=104.0,
        places_per_count=4,
        round_s=60.0,
        technique="whip fours",
        surface="pad",
        loudness="medium",
        feel="working",
    )


@pytest.fixture
def row(tags):
    """Return a round of an invented player, 41 counts held."""
    return ChartRow(
        day=DAY, order=None, player="Ines", tags=tags, count_held=41, ended="lost the click"
    )


@pytest.fixture
def told():
    """Return what a judge was told of a take."""
    return Told(
        ListenRequest(
            tempo_bpm=104.0,
            places_per_count=4,
            hand="left",
            counts_planned=104,
            first_count_s=None,
        ),
        None,
    )


@pytest.fixture
def judged():
    """Return a reading, as short as the studio needs it."""
    body = {
        "schema": "loosehand.reading/1",
        "count_held": 37,
        "ended": "lost the click",
        "confidence": 0.97,
        "strokes": [],
        "quality": {"notes": [], "assumed": []},
    }
    return Judged(body, "1")
