"""Checks of what is known of a round when it begins."""

import json
from dataclasses import replace

import numpy as np
import pytest

from loosehand.errors import StoreError
from loosehand.hear.scheduled import RoundAcoustics, ScheduledClicks
from loosehand.rounds.workout import PlannedRound
from loosehand.web.live.head import RoundHead, head_from_json
from tests.web.live.conftest import setting_of

FLOOR = np.array([1e-9, 1 / 3], dtype=np.float32)
CLICKS = ScheduledClicks(
    0.293, 60.0 / 97.0, ("count-in", None, "count"), {"count": FLOOR, "count-in": 2 * FLOOR}, 192
)
HEAD = RoundHead(
    round="r" * 32,
    workout="w" * 32,
    page="p" * 32,
    player="Inés",
    index=2,
    listens="microphone",
    planned=PlannedRound("round", "alternating", 97.5, 4, 6.0),
    setting=setting_of(grip="as it comes", silent_bars=True),
    sample_rate_hz=44_100,
    start_frame=2**40,
    first_count_s=2.7431111111,
    acoustics=None,
    settings={"echoCancellation": False, "deviceId": "x"},
    round_trip_s=0.1 + 0.2,
    residual_s=1e-5,
    began_at="2027-03-01T18:30:00+00:00",
)


@pytest.mark.parametrize(
    "head",
    [
        HEAD,
        replace(HEAD, listens="pad", round_trip_s=None, residual_s=None),
        replace(HEAD, planned=PlannedRound("warm-up", "left", 60.0, 3, 30.0)),
    ],
)
def test_a_head_comes_back_equal(head):
    """What the journal keeps as JSON gives the same head, to the last bit of its times."""
    assert head_from_json(json.loads(json.dumps(head.to_json()))) == head


@pytest.mark.parametrize("clicks", [CLICKS, None])
def test_the_acoustics_of_a_head_come_back_to_the_last_bit(clicks):
    """What the ear is told comes back with its head."""
    head = replace(HEAD, acoustics=RoundAcoustics(44_100, FLOOR, clicks))
    stored = json.loads(json.dumps(head.to_json()))
    again = head_from_json(stored)
    assert again.acoustics is not None
    assert again.acoustics.floor.tobytes() == FLOOR.tobytes()
    assert again.to_json() == stored
    assert replace(again, acoustics=None) == replace(head, acoustics=None)
    if clicks is not None:
        assert again.acoustics.clicks.waves["count-in"].tobytes() == (2 * FLOOR).tobytes()
        assert again.acoustics.clicks.roles == CLICKS.roles


def test_the_journal_finds_its_names():
    """What the journal needs of a head stands in its JSON under those names."""
    stored = HEAD.to_json()
    assert (stored["workout"], stored["round"], stored["page"]) == ("w" * 32, "r" * 32, "p" * 32)


@pytest.mark.parametrize("change", [{"planned": {"hand": "left"}}, {"more": 1}, {"acoustics": {}}])
def test_a_head_of_another_version_is_said(change):
    """A head that this version does not know is refused in a sentence."""
    with pytest.raises(StoreError, match="another version"):
        head_from_json(HEAD.to_json() | change)
