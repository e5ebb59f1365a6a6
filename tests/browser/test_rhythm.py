"""The stand's pure functions, run in the browser that they are for."""

import struct

import pytest

from loosehand.rounds.workout import PlannedRound
from loosehand.web.live.clicks import click_order
from loosehand.web.live.wire import read_block
from tests.web.live.conftest import setting_of


@pytest.fixture(scope="module")
def rhythm(chromium, live_server):
    """Return a function that calls one of the module's functions."""
    page = chromium.new_page()
    page.goto(f"{live_server.url}/")

    def call(body, value=None):
        return page.evaluate(
            "async (value) => { const rhythm = await import('/static/js/rhythm.js'); "
            f"return (({body}))(rhythm, value); }}",
            value,
        )

    yield call
    page.close()


def test_clicks_do_not_drift(rhythm):
    """Every click of a minute starts within half a frame of its exact time: no drift at all."""
    planned = PlannedRound("round", "left", 107.0, 4, 60.0)
    clicks = click_order(planned, setting_of())
    starts = rhythm(
        """(rhythm, clicks) => {
          const one = Float32Array.of(1);
          const sounds = { "count-in": one, downbeat: one, count: one };
          const mixed = rhythm.mixClicks(clicks, sounds, 44100);
          const found = [];
          mixed.forEach((sample, frame) => { if (sample) found.push(frame); });
          return found;
        }""",
        clicks,
    )
    assert len(starts) == len(clicks) == 111
    for frame, click in zip(starts, clicks, strict=True):
        assert abs(frame - 44_100 * click["at_s"]) <= 0.5


def test_silent_clicks_leave_silence(rhythm):
    """A click without a role adds nothing."""
    clicks = [{"at_s": 0.0, "role": "count", "count": 1}, {"at_s": 0.5, "role": None, "count": 2}]
    total = rhythm(
        """(rhythm, clicks) => rhythm.mixClicks(clicks, { count: Float32Array.of(1, 1) }, 1000)
          .reduce((sum, sample) => sum + sample, 0)""",
        clicks,
    )
    assert total == 2.0


@pytest.mark.parametrize(
    ("since_s", "figure", "count_in"),
    [
        (-0.1, "", True),
        (0.0, "2", True),
        (0.49, "2", True),
        (0.5, "1", True),
        (1.0, "1", False),
        (1.7, "2", False),
        (99.0, "2", False),
    ],
)
def test_count_shown(rhythm, since_s, figure, count_in):
    """The count-in counts down, the round counts up."""
    clicks = [{"at_s": 0.5 * k, "role": "count", "count": k - 1} for k in range(4)]
    shown = rhythm("(rhythm, [clicks, at]) => rhythm.countShown(clicks, at)", [clicks, since_s])
    assert shown == {"figure": figure, "countIn": count_in}


def test_event_frame(rhythm):
    """A moment of the page's clock is mapped by a stamp of both clocks, whatever their zeros."""
    frame = rhythm(
        "(rhythm) => rhythm.eventFrame(5250, { contextTime: 2, performanceTime: 5000 }, 48000)"
    )
    assert frame == pytest.approx(2.25 * 48_000)


def test_blocks_are_kept_until_acknowledged(rhythm):
    """What was not acknowledged is kept, and the last few seconds besides."""
    kept = rhythm(
        """(rhythm) => {
          const blocks = Array.from({ length: 20 }, (_, k) => ({ frame: 100 * k, size: 100 }));
          return [[900, 300], [Infinity, 300], [0, 300]].map(([acked, keep]) =>
            rhythm.stillNeeded(blocks, acked, keep)[0].frame);
        }"""
    )
    assert kept == [900, 1700, 0]


def test_a_block_is_packed_as_the_server_reads_it(rhythm):
    """The page's packing is the server's reading."""
    packed = rhythm(
        "(rhythm) => [...new Uint8Array(rhythm.packBlock(4096, Float32Array.of(0.5, -1)))]"
    )
    block = read_block(bytes(packed))
    assert (block.frame, block.samples.tolist()) == (4096, [2**22, -(2**23)])
    assert struct.unpack("<d", bytes(packed[:8])) == (4096.0,)
