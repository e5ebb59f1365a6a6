"""The demo studio."""

from dataclasses import replace
from datetime import timedelta

import pytest

from loosehand.errors import NotFound
from loosehand.studio.chart import chart_rounds, player_names
from loosehand.studio.database import open_studio
from loosehand.studio.demo import DEMO_PLAYER, make_demo, next_words
from loosehand.studio.filing import write_count
from loosehand.studio.sound import stored_names


def _hearing(judged, heard):
    """Return an ear that counts what it hears, and reads each take differently."""

    def hear(path, told):
        heard.append(path)
        body = {**judged.body, "count_held": 30 + len(heard), "strokes": [{}]}
        return replace(judged, body=body)

    return hear


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Make the demo twice, in two folders, on the same day."""
    from datetime import UTC, datetime

    from loosehand.studio.hearing import Judged

    now = datetime(2027, 3, 1, 18, 30, tzinfo=UTC)
    body = {
        "count_held": 0,
        "ended": "lost the click",
        "confidence": 0.9,
        "quality": {"notes": [], "assumed": []},
    }
    both = []
    for name in ("one", "two"):
        folder = tmp_path_factory.mktemp(name)
        studio = open_studio(folder, create=True, busy_timeout_s=0.2)
        heard = []
        shown = make_demo(studio, hearing=_hearing(Judged(body, "1"), heard), now=now)
        both.append((studio, shown, heard))
    return both


def _rounds(studio):
    """Return all rounds of a studio."""
    with studio.look() as session:
        return chart_rounds(session, player=None)


def test_the_same_seed_makes_the_same_studio(made):
    """Charts and sounds of two demos are equal."""
    (one, _, _), (two, _, _) = made
    assert _rounds(one) == _rounds(two)
    assert stored_names(one.folder) == stored_names(two.folder)
    assert len(stored_names(one.folder)) == 3


def test_every_number_is_heard_or_marked_as_written(made):
    """Numbers of takes are the ear's; all others stand as written by hand."""
    studio, shown, heard = made[0]
    rounds = _rounds(studio)
    takes = [found for found in rounds if found.has_take]
    assert len(heard) == len(takes) == 3
    assert [found.row.count_held for found in takes] == [31, 32, 33]
    assert all(found.count_written is None for found in takes)
    assert all(found.count_written is not None for found in rounds if not found.has_take)
    assert shown.body["count_held"] == 31


def test_there_are_some_weeks_of_some_players_with_rest_days(made, now):
    """The chart has three players, ten weeks, and days without a workout."""
    studio, _, _ = made[0]
    with studio.look() as session:
        assert len(player_names(session)) == 3
        rounds = chart_rounds(session, player=DEMO_PLAYER)
    days = {found.row.day for found in rounds}
    span = max(days) - min(days)
    assert span == timedelta(days=70)
    assert len(days) == 41
    assert {found.row.tags.hand for found in rounds} == {"left", "right"}
    assert all(0 <= found.row.count_held <= found.row.tags.counts for found in rounds)


def test_said_again_it_hears_again(made, now, judged):
    """A demo that is there is not made again; its first take is heard."""
    studio, shown, _ = made[1]
    before = len(_rounds(studio))
    heard = []
    again = make_demo(studio, hearing=_hearing(judged, heard), now=now)
    assert (len(heard), again.place) == (1, shown.place)
    assert len(_rounds(studio)) == before


def test_a_real_studio_is_not_made_a_demo(studio, row, judged, now):
    """Nobody's own chart is mixed with invented people."""
    write_count(studio, row, now=now)
    with pytest.raises(NotFound, match="is not the demo studio"):
        make_demo(studio, hearing=lambda *_: judged, now=now)
    assert len(_rounds(studio)) == 1


def test_what_to_try_next_names_the_take(made):
    """The words to try next fit the studio that was made."""
    studio, shown, _ = made[0]
    words = next_words(studio.folder, shown)
    assert f'--studio "{studio.folder}"' in words
    assert f"--order {shown.place.order}" in words
    assert "python3 start.py" in words
