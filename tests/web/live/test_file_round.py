"""Checks of a round's way from its journal to the chart."""

import json
import shutil
from dataclasses import replace

import numpy as np
import pytest
from sqlalchemy import func, select

from loosehand.cli.hear_commands import hear_told
from loosehand.errors import DiskFull, UnreadableAudio
from loosehand.hear.decode import read_midi, read_mono
from loosehand.hear.sound_check import check_sound
from loosehand.rounds.workout import PlannedRound
from loosehand.studio.chart import chart_rounds
from loosehand.studio.hearing import Told
from loosehand.studio.models import Reading, Round, Take
from loosehand.studio.sound import path_of_content, stored_names
from loosehand.web.live.clicks import (
    CHECK_LENGTH_S,
    CHECK_STROKES_FROM_S,
    check_clicks,
    click_order,
    click_sounds,
    round_acoustics,
)
from loosehand.web.live.file_round import NOBODY_PLAYED, WENT_AWAY, file_round, filed_outcome
from loosehand.web.live.head import RoundHead, head_from_json
from loosehand.web.live.journal import journals_in, new_journal, open_journal
from tests.blank_studio import new_studio
from tests.web.live.conftest import NOW, setting_of
from tests.web.live.page_and_room import CLICK_GAIN, RATE_HZ, ROUND_TRIP_S, TWO_TO_23, knock, steady

PLANNED = PlannedRound("round", "left", 120.0, 4, 6.0)
SETTING = setting_of(grip="as it comes")
FIRST_CLICK_S = 0.25 + ROUND_TRIP_S
FIRST_COUNT_S = FIRST_CLICK_S + 4 * 0.5
WHOLE = {"ended": None, "void": None, "capture": {"listens": "microphone", "frames_lost": 0}}


def add(sound, at_s, wave):
    """Let something sound."""
    first = round(at_s * RATE_HZ)
    sound[first : first + wave.size] += wave[: max(sound.size - first, 0)]


def quiet(length_s, *, seed=1):
    """A quiet room."""
    return np.random.default_rng(seed).normal(0.0, 1e-4, round(length_s * RATE_HZ))


@pytest.fixture(scope="module")
def check():
    """A sound check of the room, the click in it."""
    sound = quiet(CHECK_LENGTH_S, seed=2)
    clicks = check_clicks("low wood", first_s=0.25, sample_rate_hz=RATE_HZ)
    for at_s, role in zip(clicks.time_s, clicks.roles, strict=True):
        add(sound, at_s + ROUND_TRIP_S, CLICK_GAIN * clicks.waves[role])
    for k in range(4):
        add(sound, 7.2 + 0.5 * k, knock(np.random.default_rng(k), 1.0))
    return check_sound(
        sound.astype(np.float32),
        clicks,
        sample_rate_hz=RATE_HZ,
        strokes_from_s=CHECK_STROKES_FROM_S,
    )


@pytest.fixture
def studio(tmp_path):
    """An empty studio."""
    opened = new_studio(tmp_path / "studio", busy_timeout_s=1.0)
    yield opened
    opened.close()


@pytest.fixture
def head(check):
    """What is known of a round of the left hand, 12 counts at 120."""
    return RoundHead(
        round="a" * 32,
        workout="w" * 32,
        page="p" * 32,
        player="Nerys",
        index=1,
        listens="microphone",
        planned=PLANNED,
        setting=SETTING,
        sample_rate_hz=RATE_HZ,
        start_frame=90_000,
        first_count_s=FIRST_COUNT_S,
        acoustics=round_acoustics(
            check, PLANNED, SETTING, first_click_s=FIRST_CLICK_S, sample_rate_hz=RATE_HZ
        ),
        settings={"autoGainControl": False},
        round_trip_s=check.path.round_trip_s,
        residual_s=check.path.residual_s,
        began_at=NOW.isoformat(),
    )


def sound_of_round(*, counts, length_s=9.0):
    """What the microphone hears of a round that is held for so many counts, then left."""
    sound = quiet(length_s)
    sounds = click_sounds("low wood", sample_rate_hz=RATE_HZ)
    for click in click_order(PLANNED, SETTING):
        add(sound, FIRST_CLICK_S + click["at_s"], CLICK_GAIN * np.array(sounds[click["role"]]))
    place, off_s = steady(counts, 4)
    rng = np.random.default_rng(3)
    for at_s in FIRST_COUNT_S + 0.125 * place + off_s:
        add(sound, at_s, knock(rng, rng.uniform(0.8, 1.2)))
    return np.rint(np.clip(sound, -1.0, 1.0) * (TWO_TO_23 - 1)).astype(np.int32)


HELD_7 = sound_of_round(counts=7)


def journal_of(studio, head, samples=HELD_7, *, end=WHOLE):
    """A journal that holds a sound, and how it ended unless the page went away."""
    journal = new_journal(studio.folder, head.to_json())
    for part in np.array_split(samples, 5):
        journal.append(part)
    if end is not None:
        journal.end(end)
    return journal


def filed(studio, journal, *, hearing=hear_told):
    """File a journal."""
    return file_round(studio, journal, hearing=hearing, now=NOW)


def on_chart(studio):
    """Rounds on the chart."""
    with studio.look() as session:
        return chart_rounds(session, player=None)


def rows(studio, kind):
    """All rows of a kind."""
    with studio.look() as session:
        return session.scalars(select(kind)).all()


def stored_sound(studio):
    """Samples of the only sound that the studio keeps."""
    ((kind, content),) = stored_names(studio.folder)
    path = path_of_content(studio.folder, kind=kind, content_sha256=content)
    return read_mono(path, longest_s=60.0).samples


def test_a_round_that_is_over_counts(studio, head):
    """A round with its end stands on the chart with the planted count, its tags and its day."""
    outcome = filed(studio, journal_of(studio, head))
    assert (outcome.index, outcome.held, outcome.counts) == (1, 7, 12)
    assert (outcome.void, outcome.feel) == (None, None)
    (found,) = on_chart(studio)
    assert (found.row.player, found.row.count_held, found.row.ended) == ("Nerys", 7, outcome.ended)
    assert (found.row.tags.hand, found.row.tags.tempo_bpm) == ("left", 120.0)
    assert (found.row.tags.technique, found.row.tags.surface) == ("whip fours", "pad")
    assert found.row.extra == {"grip": "as it comes"}
    assert found.row.day == NOW.astimezone().date()
    assert journals_in(studio.folder) == []


def test_the_sound_that_is_kept_is_what_came(studio, head):
    """Every sample of the journal is in the stored take, to the last of its 24 bits."""
    filed(studio, journal_of(studio, head))
    assert np.array_equal(np.rint(stored_sound(studio) * TWO_TO_23), HELD_7)


def test_all_that_the_ear_was_told_is_kept(studio, head):
    """Request, room, click and capture of the round are stored with its take."""
    filed(studio, journal_of(studio, head))
    told = Told.from_json(rows(studio, Take)[0].told)
    assert told.request.first_count_s == FIRST_COUNT_S
    assert (told.request.tempo_bpm, told.request.counts_planned) == (120.0, 12)
    assert told.acoustics == head.acoustics.to_json()
    assert told.capture == WHOLE["capture"] | {"drift_ppm": None}
    assert told.more_notes == ()


def test_asynchronies_are_those_that_were_planted(studio, head):
    """With the way of the click known, early and late are absolute: within a millisecond."""
    filed(studio, journal_of(studio, head))
    (reading,) = rows(studio, Reading)
    with studio.look() as session:
        body = session.scalar(select(Reading.body))
    heard_ms = np.array([stroke["asynchrony_ms"] for stroke in body["strokes"]])
    assert reading.count_held == 7
    assert np.abs(heard_ms - 1e3 * steady(7, 4)[1]).max() < 1.0


def test_without_the_way_of_the_click_lead_is_relative_and_said(studio, head, check):
    """With headphones the reading says that lead and lag are relative."""
    unknown = replace(
        head,
        acoustics=replace(head.acoustics, clicks=None),
        round_trip_s=None,
        residual_s=None,
    )
    seen = []

    def hearing(path, told):
        seen.append(told)
        return hear_told(path, told)

    filed(studio, journal_of(studio, unknown), hearing=hearing)
    with studio.look() as session:
        notes = session.scalar(select(Reading.body))["quality"]["notes"]
    assert sum("lead and lag are relative" in note for note in notes) == 1
    assert "lead and lag are relative" in seen[0].more_notes[0]


def test_a_round_whose_page_went_away_is_void_and_its_sound_kept(studio, head):
    """Without an end the round is void; what was recorded is kept with its reading."""
    half = HELD_7[: 5 * RATE_HZ]
    outcome = filed(studio, journal_of(studio, head, half, end=None))
    assert outcome.void == WENT_AWAY
    assert on_chart(studio) == []
    (found,) = rows(studio, Round)
    assert (found.standing, found.why_void) == ("void", WENT_AWAY)
    assert np.array_equal(np.rint(stored_sound(studio) * TWO_TO_23), half)
    assert journals_in(studio.folder) == []


@pytest.mark.parametrize("why", ["device", "sound was lost"])
def test_a_round_that_was_called_void_is_so(studio, head, why):
    """What page or server called void does not count, however well it was held."""
    outcome = filed(studio, journal_of(studio, head, end=WHOLE | {"void": why}))
    assert (outcome.void, outcome.held) == (why, 7)
    assert on_chart(studio) == []


def test_a_round_nobody_plays_is_void(studio, head):
    """Clicks alone are no round: it is void, and its sound is kept."""
    outcome = filed(studio, journal_of(studio, head, sound_of_round(counts=0)))
    assert outcome.void == NOBODY_PLAYED
    assert on_chart(studio) == []
    assert len(stored_names(studio.folder)) == 1


def test_a_round_without_any_sound_leaves_no_row(studio, head):
    """Where nothing was recorded at all there is nothing to keep."""
    outcome = filed(studio, journal_of(studio, head, HELD_7[:0]))
    assert (outcome.void, outcome.held, outcome.ended) == (NOBODY_PLAYED, None, "not judged")
    assert rows(studio, Round) == []
    assert stored_names(studio.folder) == set()
    assert journals_in(studio.folder) == []


def test_a_moment_of_sound_is_void(studio, head):
    """A round cut off after a few milliseconds is filed as void, not as an error."""
    outcome = filed(studio, journal_of(studio, head, HELD_7[:200]))
    assert outcome.void is not None
    assert on_chart(studio) == []


def test_sound_that_cannot_be_read_is_void_and_kept(studio, head):
    """Where the ear refuses the file the round is void, and the sound is there to try again."""

    def refuse(_path, _told):
        raise UnreadableAudio("no")

    outcome = filed(studio, journal_of(studio, head), hearing=refuse)
    assert outcome.void == "the sound could not be read"
    assert [found.why_void for found in rows(studio, Round)] == ["the sound could not be read"]
    assert rows(studio, Reading) == []
    assert len(stored_names(studio.folder)) == 1


def test_a_warm_up_is_kept_and_never_on_the_chart(studio, head):
    """A warm-up is filed as one, with its reading."""
    warm = replace(head, planned=replace(PLANNED, kind="warm-up"))
    outcome = filed(studio, journal_of(studio, warm))
    assert (outcome.void, outcome.held) == (None, 7)
    assert on_chart(studio) == []
    assert [(each.standing, each.purpose) for each in rows(studio, Round)] == [("warm-up",) * 2]


def test_what_the_person_chose_stands(studio, head):
    """A round ended by choice is written as such, with the count that was heard."""
    end = WHOLE | {"ended": "stopped by choice"}
    filed(studio, journal_of(studio, head, HELD_7[: int(6.0 * RATE_HZ)], end=end))
    (found,) = on_chart(studio)
    assert (found.row.count_held, found.row.ended) == (7, "stopped by choice")


def test_a_round_is_filed_once(studio, head, tmp_path):
    """Where the program stopped between filing and clearing away, filing again adds nothing."""
    journal = journal_of(studio, head)
    shutil.copytree(journal.folder, tmp_path / "copy")
    first = filed(studio, journal)
    shutil.copytree(tmp_path / "copy", journal.folder)
    again = filed(studio, open_journal(journal.folder))
    assert first == again
    assert len(on_chart(studio)) == 1
    with studio.look() as session:
        for kind in (Round, Take, Reading):
            assert session.scalar(select(func.count(kind.id))) == 1
    assert len(stored_names(studio.folder)) == 1
    assert journals_in(studio.folder) == []


def test_what_came_of_a_round_can_be_asked_again(studio, head):
    """Of a round that is filed the same outcome is told later, void or not."""
    journal = journal_of(studio, head)
    outcome = filed(studio, journal)
    assert filed_outcome(studio, journal) == outcome
    assert outcome.held == 7
    other = journal_of(studio, replace(head, round="b" * 32), end=None)
    assert filed_outcome(studio, other).void == NOBODY_PLAYED
    outcome = filed(studio, other)
    assert filed_outcome(studio, other) == outcome
    assert outcome.void == WENT_AWAY


def test_a_full_disk_leaves_the_journal(studio, head, monkeypatch):
    """Where the take cannot be kept, the journal stays to be filed another time."""
    journal = journal_of(studio, head)

    def no_room(*_args, **_more):
        raise DiskFull("no room")

    with monkeypatch.context() as patch:
        patch.setitem(file_round.__globals__, "file_take", no_room)
        with pytest.raises(DiskFull):
            filed(studio, journal)
    assert journals_in(studio.folder) == [journal.folder]
    assert rows(studio, Round) == []
    assert filed(studio, open_journal(journal.folder)).held == 7
    journal.close()


@pytest.mark.parametrize("sound_lies", [True, False])
@pytest.mark.parametrize(("counts", "held"), [(12, 12), (5, 5)])
def test_a_pad_gives_the_planted_count(studio, head, counts, held, sound_lies):
    """Strokes of a MIDI pad become a MIDI take with the planted count; order does not matter."""
    pad = replace(head, listens="pad", acoustics=None, first_count_s=0.25 + 4 * 0.5)
    journal = journal_of(studio, pad, HELD_7[: RATE_HZ if sound_lies else 0])
    place, off_s = steady(counts, 4)
    frames = pad.start_frame + RATE_HZ * (pad.first_count_s + 0.125 * place + off_s)
    for frame in np.random.default_rng(5).permutation(frames):
        journal.append_stroke({"frame": float(frame), "note": 38, "velocity": 80})
    outcome = filed(studio, journal)
    assert (outcome.held, outcome.void) == (held, None)
    with studio.look() as session:
        body = session.scalar(select(Reading.body))
    heard_ms = np.array([stroke["asynchrony_ms"] for stroke in body["strokes"]])
    assert np.abs(heard_ms - 1e3 * off_s).max() < 0.1
    ((kind, _),) = stored_names(studio.folder)
    assert kind == "midi"
    assert not any("relative" in note for note in body["quality"]["notes"])


def test_strokes_of_a_pad_are_kept_at_their_times(studio, head):
    """Strokes at one moment, from before the take or far into it, stand in the file in order."""
    pad = replace(head, listens="pad", acoustics=None)
    journal = journal_of(studio, pad, HELD_7[:0])
    for late_s, note in ((-1.0, 0), (2.0, 36), (2.0, 38), (2.00001, 127), (300.0, 64)):
        frame = pad.start_frame + late_s * RATE_HZ
        journal.append_stroke({"frame": frame, "note": note, "velocity": 1 + note // 2})
    filed(studio, journal)
    ((kind, content),) = stored_names(studio.folder)
    kept = read_midi(path_of_content(studio.folder, kind=kind, content_sha256=content))
    assert [(each.note, each.velocity) for each in kept.notes] == [
        *((0, 1), (36, 19), (38, 20), (127, 64), (64, 33)),
    ]
    times_s = [float(kept.tempo_map.tick_to_s(each.tick)) for each in kept.notes]
    assert times_s == pytest.approx([0.0, 2.0, 2.0, 2.0, 300.0], abs=1e-4)


def test_what_is_kept_of_a_head_files_the_same(studio, head):
    """After a restart the head from the disk files the round as the first one would have."""
    journal = journal_of(studio, head)
    journal.close()
    again = open_journal(journal.folder)
    assert head_from_json(again.head).to_json() == json.loads(json.dumps(head.to_json()))
    assert filed(studio, again).held == 7


def test_strokes_of_a_long_round_keep_their_times(studio, head):
    """At a tempo that is no whole number of microseconds nothing runs away in half an hour."""
    odd = replace(head.planned, tempo_bpm=397.3, round_s=1800.0)
    pad = replace(head, listens="pad", acoustics=None, planned=odd)
    journal = journal_of(studio, pad, HELD_7[:0])
    for late_s in (1.0, 900.0, 1790.0):
        frame = pad.start_frame + late_s * RATE_HZ
        journal.append_stroke({"frame": frame, "note": 38, "velocity": 80})
    filed(studio, journal)
    ((kind, content),) = stored_names(studio.folder)
    kept = read_midi(path_of_content(studio.folder, kind=kind, content_sha256=content))
    times_s = [float(kept.tempo_map.tick_to_s(each.tick)) for each in kept.notes]
    assert times_s == pytest.approx([1.0, 900.0, 1790.0], abs=1e-4)


def test_a_test_is_filed_as_one(studio, head):
    """A round of the week's test counts, and is known as a test."""
    test = replace(head, planned=replace(PLANNED, purpose="test"))
    filed(studio, journal_of(studio, test))
    assert [(each.standing, each.purpose) for each in rows(studio, Round)] == [("counts", "test")]
