"""What a person does to the chart."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from sqlalchemy import func, select

from loosehand.errors import Conflict, InputError, NotFound, StoreError
from loosehand.studio.chart import chart_rounds
from loosehand.studio.chart_csv import read_chart_csv, write_chart_csv
from loosehand.studio.filing import (
    Imported,
    LiveRound,
    RoundPlace,
    add_reading,
    correct_count,
    delete_sound,
    file_take,
    import_rows,
    rate_round,
    sweep_studio,
    write_count,
)
from loosehand.studio.hearing import Judged, Told
from loosehand.studio.models import Correction, Reading, Round, Take
from loosehand.studio.sound import incoming_midi, incoming_sound, stored_names
from tests.blank_studio import new_studio
from tests.studio.test_chart_csv import chart_rows

NOISE = np.random.default_rng(3).normal(scale=0.1, size=4000).astype(np.float32)


def _filed(studio, row, told, judged, now, *, samples=NOISE, live=None):
    """File a take of the row's round."""
    with incoming_sound(studio.folder, [samples], sample_rate_hz=8000) as incoming:
        bare = replace(row, count_held=None, ended=None)
        return file_take(studio, incoming, bare, told, judged, now=now, live=live)


def _standing(studio, player="Ines"):
    """Return the player's rounds as they stand."""
    with studio.look() as session:
        return chart_rounds(session, player=player)


def test_a_number_written_stands(studio, row, now):
    """A number written by hand is on the chart as it was written."""
    place = write_count(studio, row, now=now)
    (found,) = _standing(studio)
    assert place == RoundPlace("Ines", row.day, 1)
    assert found.row == replace(row, order=1)
    assert not found.has_take


def test_rounds_of_a_day_come_in_order(studio, row, now):
    """A round without a place goes to the end of its day."""
    orders = [write_count(studio, replace(row, order=order), now=now).order for order in (3, None)]
    assert orders == [3, 4]


def test_a_place_that_is_taken_is_refused(studio, row, now):
    """Two rounds cannot have one place."""
    write_count(studio, replace(row, order=2), now=now)
    with pytest.raises(Conflict, match="has a round 2 on 2027-03-01 already"):
        write_count(studio, replace(row, order=2), now=now)
    assert len(_standing(studio)) == 1


def test_a_take_is_filed_with_its_reading(studio, row, told, judged, now):
    """The machine's number stands, with the judge's version and what the judge was told."""
    _filed(studio, row, told, judged, now)
    (found,) = _standing(studio)
    assert (found.row.count_held, found.row.ended) == (37, "lost the click")
    assert (found.count_read, found.confidence) == (37, 0.97)
    assert found.has_take
    assert found.has_sound
    with studio.look() as session:
        take = session.scalars(select(Take)).one()
        reading = session.scalars(select(Reading)).one()
        assert Told.from_json(take.told) == told
        assert reading.judge_version == "1"
        assert reading.body == judged.body
        assert stored_names(studio.folder) == {("sound", take.content_sha256)}


def test_what_was_told_of_notes_is_kept(told):
    """Chosen notes come back as they were."""
    with_notes = replace(told, notes=frozenset({38, 40}))
    assert Told.from_json(with_notes.to_json()) == with_notes


def test_one_sound_filed_twice_is_two_takes_and_one_file(studio, row, told, judged, now):
    """The same recording is kept once."""
    _filed(studio, row, told, judged, now)
    _filed(studio, row, told, judged, now)
    assert len(_standing(studio)) == 2
    assert len(stored_names(studio.folder)) == 1


def test_a_take_that_cannot_be_filed_leaves_no_file(studio, row, told, judged, now):
    """The file goes when its rows were refused."""
    write_count(studio, replace(row, order=1), now=now)
    with pytest.raises(Conflict):
        _filed(studio, replace(row, order=1), told, judged, now)
    assert stored_names(studio.folder) == set()
    assert len(_standing(studio)) == 1


def test_a_take_is_put_away_if_the_act_fails_after_its_file(
    studio, row, told, judged, now, monkeypatch
):
    """A failure between the file and the end of the act leaves neither."""

    def keep_then_fail(folder, incoming):
        real_keep(folder, incoming)
        raise OSError(28, "No space left on device")

    real_keep = file_take.__globals__["keep"]
    monkeypatch.setitem(file_take.__globals__, "keep", keep_then_fail)
    with pytest.raises(Exception, match="is full"):
        _filed(studio, row, told, judged, now)
    assert stored_names(studio.folder) == set()
    with studio.look() as session:
        assert session.scalar(select(func.count(Round.id))) == 0


def test_what_the_person_said_of_the_end_stands(studio, row, told, judged, now):
    """'Stopped by choice' is the person's to say, not the machine's."""
    with incoming_midi(studio.folder, b"MThd") as incoming:
        said = replace(row, count_held=None, ended="stopped by choice")
        file_take(studio, incoming, said, told, judged, now=now)
    (found,) = _standing(studio)
    assert (found.row.count_held, found.row.ended) == (37, "stopped by choice")


def test_the_persons_number_stands_and_both_are_kept(studio, row, told, judged, now):
    """A correction is in force, with when and why; the reading stays as it was."""
    place = _filed(studio, row, told, judged, now)
    later = now + timedelta(hours=1)
    before = correct_count(
        studio, place, count_held=41, ended=None, why="a chair creaked", now=later
    )
    (found,) = _standing(studio)
    assert before == 37
    assert (found.row.count_held, found.row.ended) == (41, "lost the click")
    assert (found.count_read, found.corrected_at, found.why) == (37, later, "a chair creaked")
    with studio.look() as session:
        kept = session.scalars(select(Correction)).one()
        assert (kept.count_before, kept.count_held) == (37, 41)
        assert session.scalars(select(Reading)).one().count_held == 37


def test_the_last_correction_stands_and_all_are_kept(studio, row, now):
    """Correcting again does not erase the first correction."""
    place = write_count(studio, row, now=now)
    for count in (50, 45):
        correct_count(studio, place, count_held=count, ended=None, why="counted again", now=now)
    (found,) = _standing(studio)
    assert (found.row.count_held, found.count_written) == (45, 41)
    with studio.look() as session:
        pairs = session.execute(
            select(Correction.count_before, Correction.count_held).order_by(Correction.id)
        )
        assert [tuple(pair) for pair in pairs] == [(41, 50), (50, 45)]


@pytest.mark.parametrize(
    ("count", "said", "ended"),
    [
        (104, None, "held to the end"),
        (60, None, "lost the click"),
        (60, "stopped", "stopped"),
    ],
)
def test_how_a_corrected_round_ended(studio, row, now, count, said, ended):
    """A corrected round ended as said, else as can be told."""
    place = write_count(studio, row, now=now)
    correct_count(studio, place, count_held=count, ended=said, why="counted again", now=now)
    (found,) = _standing(studio)
    assert found.row.ended == ended


def test_a_round_corrected_below_its_end_was_not_held_to_it(studio, row, now):
    """What was 'held to the end' is not so any more when the number falls."""
    place = write_count(studio, replace(row, count_held=104, ended="held to the end"), now=now)
    correct_count(studio, place, count_held=60, ended=None, why="wrong hand", now=now)
    (found,) = _standing(studio)
    assert found.row.ended is None
    assert not found.held_to_the_end


def test_a_number_that_cannot_be_corrects_nothing(studio, row, now):
    """A correction is held to the counts of its round and wants a reason."""
    place = write_count(studio, row, now=now)
    with pytest.raises(InputError, match="count_held = 105"):
        correct_count(studio, place, count_held=105, ended=None, why="more", now=now)
    with pytest.raises(InputError, match="why is empty"):
        correct_count(studio, place, count_held=50, ended=None, why=" ", now=now)
    assert _standing(studio)[0].row.count_held == 41


def test_a_round_that_is_not_there_is_named(studio, row, now):
    """Who asks for a round that is not there is told what is."""
    place = write_count(studio, row, now=now)
    with pytest.raises(NotFound, match="no round 9 on 2027-03-01; that day has rounds up to 1"):
        correct_count(studio, replace(place, order=9), count_held=1, ended=None, why="x", now=now)
    with pytest.raises(NotFound, match="no player 'Otto' in this studio; it knows Ines"):
        correct_count(
            studio, replace(place, player="Otto"), count_held=1, ended=None, why="x", now=now
        )


def test_a_sound_is_deleted_and_the_numbers_stay(studio, row, told, judged, now):
    """The recording goes, the chart stays."""
    place = _filed(studio, row, told, judged, now)
    done = delete_sound(studio, player="Ines", day=place.day, order=place.order, now=now)
    assert (done.takes, done.files) == (1, 1)
    assert stored_names(studio.folder) == set()
    (found,) = _standing(studio)
    assert found.row.count_held == 37
    assert found.has_take
    assert not found.has_sound


def test_a_sound_that_another_take_needs_stays(studio, row, told, judged, now):
    """One of two takes of the same recording may go without the other."""
    _filed(studio, row, told, judged, now)
    _filed(studio, row, told, judged, now)
    first = delete_sound(studio, player="Ines", day=row.day, order=1, now=now)
    assert (first.takes, first.files) == (1, 0)
    assert len(stored_names(studio.folder)) == 1
    assert delete_sound(studio, player="Ines", day=None, order=None, now=now).files == 1


def test_deleting_what_is_gone_says_so(studio, row, now):
    """Nothing to delete is said, not passed over."""
    write_count(studio, row, now=now)
    with pytest.raises(NotFound, match="no take of Ines"):
        delete_sound(studio, player="Ines", day=None, order=None, now=now)


def test_a_file_without_a_row_is_swept_away(studio, row, told, judged, now):
    """What a machine that stopped left behind goes; what is on the chart stays."""
    _filed(studio, row, told, judged, now)
    orphan = studio.folder / "sound" / "ab" / ("ab" + "0" * 62 + ".flac")
    orphan.parent.mkdir(parents=True, exist_ok=True)
    orphan.write_bytes(b"left behind")
    assert sweep_studio(studio, now=now) == 1
    assert not orphan.exists()
    assert len(stored_names(studio.folder)) == 1


def test_importing_twice_adds_nothing(studio, row, now):
    """A chart that is there already is not doubled, and two like rounds are two."""
    rows = [row, row, replace(row, player="Otto")]
    assert import_rows(studio, rows, now=now) == Imported(added=3, already_there=0, moved=0)
    assert import_rows(studio, rows, now=now) == Imported(added=0, already_there=3, moved=0)


def test_importing_over_a_taken_place_goes_to_the_end(studio, row, now):
    """Another round at the same place of a day is kept behind the first."""
    import_rows(studio, [replace(row, order=1)], now=now)
    other = replace(row, order=1, count_held=60)
    assert import_rows(studio, [other], now=now) == Imported(added=1, already_there=0, moved=1)
    assert [found.row.count_held for found in _standing(studio)] == [41, 60]


@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(rows=chart_rows())
def test_a_chart_through_the_studio_is_the_same(tmp_path_factory, now, rows):
    """Imported and exported, a chart holds the same rounds; again, it is equal to the letter."""
    studio = new_studio(tmp_path_factory.mktemp("studio"), busy_timeout_s=0.2)
    import_rows(studio, rows, now=now)
    exported = [found.row for found in _standing(studio, player=None)]
    assert sorted(map(_without_order, exported)) == sorted(map(_without_order, rows))
    given_orders = {
        (row.player, row.day, row.order, _without_order(row)) for row in rows if row.order
    }
    got_orders = {(row.player, row.day, row.order, _without_order(row)) for row in exported}
    assert given_orders <= got_orders
    second = new_studio(tmp_path_factory.mktemp("second"), busy_timeout_s=0.2)
    import_rows(second, read_chart_csv(write_chart_csv(exported)), now=now)
    assert write_chart_csv([found.row for found in _standing(second, player=None)]) == (
        write_chart_csv(exported)
    )


def _without_order(row):
    """Return a round's line without its place in the day, as text that sorts."""
    return write_chart_csv([replace(row, order=None)])


def test_a_reading_of_another_version_takes_force(studio, row, told, judged, now):
    """The last reading made of a take is the one on the chart."""
    _filed(studio, row, told, judged, now)
    newer = Judged({**judged.body, "count_held": 39}, "2")
    with studio.act() as session:
        add_reading(session, session.scalars(select(Take)).one(), newer, now=now)
    (found,) = _standing(studio)
    assert found.row.count_held == 39


def _round_of(studio, key):
    """Return the row of a round of the stand."""
    with studio.look() as session:
        return session.scalars(select(Round).where(Round.live_key == key)).one()


def test_a_round_of_the_stand_is_filed_once(studio, row, told, judged, now):
    """Filed twice with one key, a round is one row, one take and one file, at its first place."""
    live = LiveRound("a" * 32, "counts", None, "round")
    write_count(studio, row, now=now)
    first = _filed(studio, row, told, judged, now, live=live)
    write_count(studio, row, now=now)
    other = Judged({**judged.body, "count_held": 12}, "2")
    again = _filed(studio, row, told, other, now, samples=0.5 * NOISE, live=live)
    assert first == again == RoundPlace("Ines", row.day, 2)
    assert [found.row.count_held for found in _standing(studio)] == [41, 37, 41]
    with studio.look() as session:
        assert session.scalar(select(func.count(Take.id))) == 1
        assert session.scalar(select(func.count(Reading.id))) == 1
    assert len(stored_names(studio.folder)) == 1
    assert list((studio.folder / "incoming").glob("*")) == []


def test_rounds_of_other_keys_are_rounds_of_their_own(studio, row, told, judged, now):
    """Two rounds that sound the same are two, as their keys say."""
    for key in ("a" * 32, "b" * 32):
        _filed(studio, row, told, judged, now, live=LiveRound(key, "counts", None, "round"))
    assert len(_standing(studio)) == 2


@pytest.mark.parametrize(
    ("standing", "why"), [("void", "nobody played"), ("void", "device"), ("warm-up", None)]
)
def test_void_rounds_and_warm_ups_are_not_on_the_chart(
    studio, row, told, judged, now, standing, why
):
    """They are kept with their sound and the reason, and no number of theirs stands."""
    _filed(studio, row, told, judged, now, live=LiveRound("a" * 32, standing, why, "round"))
    assert _standing(studio) == []
    found = _round_of(studio, "a" * 32)
    assert (found.standing, found.why_void) == (standing, why)
    assert len(stored_names(studio.folder)) == 1
    assert sweep_studio(studio, now=now) == 0


def test_a_round_that_could_not_be_read_keeps_its_sound(studio, row, told, now):
    """Where there is no reading the take is filed without one."""
    live = LiveRound("a" * 32, "void", "the sound could not be read", "round")
    _filed(studio, row, told, None, now, live=live)
    with studio.look() as session:
        assert session.scalars(select(Take)).one().readings == []
    assert len(stored_names(studio.folder)) == 1


def test_a_standing_that_is_not_known_files_nothing(studio, row, told, judged, now):
    """A round counts, warms up or is void; another word leaves neither row nor file."""
    with pytest.raises(StoreError, match="standing"):
        _filed(studio, row, told, judged, now, live=LiveRound("a" * 32, "perhaps", None, "round"))
    assert _standing(studio, player=None) == []
    assert stored_names(studio.folder) == set()


def test_correcting_a_void_round_makes_it_count(studio, row, told, judged, now):
    """A number that a person stands for is on the chart, whatever became of the round."""
    live = LiveRound("a" * 32, "void", "sound was lost", "round")
    place = _filed(studio, row, told, judged, now, live=live)
    before = correct_count(studio, place, count_held=40, ended=None, why="it was whole", now=now)
    (found,) = _standing(studio)
    assert before == 37
    assert (found.row.count_held, found.standing) == (40, "counts")


def test_a_correction_that_cannot_be_leaves_a_void_round_void(studio, row, told, judged, now):
    """A refused correction changes nothing."""
    live = LiveRound("a" * 32, "void", "sound was lost", "round")
    place = _filed(studio, row, told, judged, now, live=live)
    with pytest.raises(InputError, match="count_held = 999"):
        correct_count(studio, place, count_held=999, ended=None, why="more", now=now)
    assert _standing(studio) == []
    assert _round_of(studio, "a" * 32).standing == "void"


@pytest.mark.parametrize("feel", ["loose", "working", "tense", "pain"])
def test_how_a_round_felt_is_written_to_it(studio, row, told, judged, now, feel):
    """The word goes to the round of that key and to no other; the last word stands."""
    for key in ("a" * 32, "b" * 32):
        _filed(studio, row, told, judged, now, live=LiveRound(key, "counts", None, "round"))
    rate_round(studio, "a" * 32, "loose")
    rate_round(studio, "a" * 32, feel)
    assert [found.row.tags.feel for found in _standing(studio)] == [feel, "working"]


def test_a_feel_that_cannot_be_written_is_refused(studio, row, told, judged, now):
    """Another word, or a round that is not there, is one sentence."""
    _filed(studio, row, told, judged, now, live=LiveRound("a" * 32, "counts", None, "round"))
    with pytest.raises(InputError, match="feel = 'great'"):
        rate_round(studio, "a" * 32, "great")
    with pytest.raises(NotFound, match="no such round of the stand"):
        rate_round(studio, "b" * 32, "loose")
    assert _standing(studio)[0].row.tags.feel == "working"
