"""A whole studio in one file, and back."""

import hashlib
import json
import zipfile
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from loosehand.errors import (
    BadTable,
    Conflict,
    DiskFull,
    InputError,
    LoosehandError,
    NeedsMigration,
    NotFound,
)
from loosehand.rounds.conduct import Outcome
from loosehand.rounds.workout import RoundSetting, Workout, ladder_rounds
from loosehand.studio import models
from loosehand.studio.archive import Packed, check_archive, pack, unpack
from loosehand.studio.chart import chart_rounds
from loosehand.studio.filing import (
    LiveRound,
    correct_count,
    delete_sound,
    file_take,
    import_rows,
    write_count,
)
from loosehand.studio.models import Player, ReachFit, ReachForecast, Round
from loosehand.studio.part_takes import part_of_take
from loosehand.studio.parts_store import add_part, delete_part, list_parts, load_part
from loosehand.studio.sound import incoming_midi, incoming_sound, path_of_content, stored_names
from loosehand.studio.workouts import begin_workout, load_workout, save_progress
from tests.blank_studio import new_studio
from tests.studio.part_take_scenes import part_with_take

PART = "title: Slow ü\ntempo: 80\nmeter: 2/4\ngrid: 1\nRF kick x x\n"
NOISE = np.random.default_rng(5).normal(scale=0.1, size=20_000).astype(np.float32)


PLANNED = Workout(
    "Ines",
    RoundSetting(
        round_s=30.0,
        rest_s=20.0,
        count_in_counts=4,
        counts_per_bar=4,
        accent=True,
        silent_bars=False,
        timbre="tick",
        level_db=-6.0,
        play_out=False,
        technique=None,
        surface="hat",
        loudness=None,
        grip="ü",
    ),
    ladder_rounds(tempos_bpm=[80.0, 82.5], weak="right", round_s=30.0, alternate=True),
)
ROUNDS = "rows/rounds.jsonl"
PARTS = "rows/parts.jsonl"
TAKES = "rows/takes.jsonl"
PROGRESS = {
    "index": 1,
    "waits": True,
    "phase": "rest",
    "outcomes": [Outcome(0, 12, 40, "lost the click", None, "loose").__dict__],
}


@pytest.fixture
def full(studio, row, told, judged, now):
    """Return a studio with something in every table and two files of sound."""
    write_count(studio, replace(row, player="Otto", extra={"note": "ü \x00 \u2028"}), now=now)
    for scale in (1.0, 0.75, 0.25):
        with incoming_sound(studio.folder, [scale * NOISE], sample_rate_hz=8000) as incoming:
            place = file_take(
                studio, incoming, replace(row, count_held=None, ended=None), told, judged, now=now
            )
    with incoming_midi(studio.folder, b"MThd") as incoming:
        file_take(studio, incoming, replace(row, count_held=None), told, judged, now=now)
    delete_sound(studio, player="Ines", day=place.day, order=2, now=now)
    correct_count(studio, place, count_held=40, ended=None, why="a chair", now=now)
    with incoming_sound(studio.folder, [0.5 * NOISE], sample_rate_hz=8000) as incoming:
        live = LiveRound("a" * 32, "void", "sound was lost", "test")
        file_take(studio, incoming, replace(row, count_held=None), told, None, now=now, live=live)
    key = begin_workout(studio, PLANNED, now=now)
    save_progress(studio, key, PROGRESS, ended_at=now)
    begin_workout(studio, PLANNED, now=now)
    add_part(studio, PART, player="Ines", now=now)
    add_part(studio, PART, player=None, now=now)
    return studio


@pytest.fixture
def other(tmp_path):
    """Open a second, empty studio."""
    opened = new_studio(tmp_path / "other", busy_timeout_s=0.2)
    yield opened
    opened.close()


def _members(path):
    """Return every member of an archive but its manifest."""
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist() if name != "manifest.json"}


def _forge(path, *, changed=None, manifest=None, extra=(), compression=zipfile.ZIP_DEFLATED):
    """Write an archive again with members changed and a manifest that agrees with them."""
    with zipfile.ZipFile(path) as archive:
        said = json.loads(archive.read("manifest.json"))
    members = _members(path) | (changed or {})
    members = {name: data for name, data in members.items() if data is not None}
    said["members"] = {
        name: {"bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}
        for name, data in members.items()
    }
    said.update(manifest or {})
    forged = path.with_name("forged.zip")
    with zipfile.ZipFile(forged, "w", compression) as archive:
        for name, data in [*members.items(), *extra]:
            archive.writestr(name, data)
        archive.writestr("manifest.json", json.dumps(said))
    return forged


def _assert_empty(studio):
    """Check that nothing was left in a studio by a refusal."""
    with studio.look() as session:
        assert chart_rounds(session, player=None) == []
    assert stored_names(studio.folder) == set()
    assert list((studio.folder / "incoming").glob("*")) == []


def test_an_archive_unpacked_and_packed_is_equal(full, other, tmp_path, now):
    """Rows and sound come back to the byte, whatever they hold."""
    packed = pack(full, tmp_path / "a.zip", now=now)
    assert packed == Packed(rows=2 + 2 + 6 + 5 + 4 + 1 + 2 + 2, files=4)
    assert unpack(other, tmp_path / "a.zip") == packed
    assert stored_names(other.folder) == stored_names(full.folder)
    pack(other, tmp_path / "b.zip", now=now)
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()
    with full.look() as one, other.look() as two:
        assert chart_rounds(one, player=None) == chart_rounds(two, player=None)


def test_rounds_and_workouts_of_the_stand_come_back(full, other, tmp_path, now):
    """What is void stays void with its reason and key; a workout can be gone on with."""
    pack(full, tmp_path / "a.zip", now=now)
    unpack(other, tmp_path / "a.zip")
    with other.look() as session:
        found = session.scalars(select(Round).where(Round.live_key == "a" * 32)).one()
        assert (found.standing, found.why_void) == ("void", "sound was lost")
        begun, fresh = session.scalars(select(models.Workout).order_by(models.Workout.id)).all()
    assert (begun.ended_at, fresh.ended_at) == (now, None)
    assert load_workout(other, begun.key).workout == PLANNED
    assert load_workout(other, begun.key).progress == PROGRESS
    assert load_workout(other, fresh.key).progress is None


def test_parts_come_back(full, other, tmp_path, now):
    """Parts of players and of the studio are the same after, texts and versions included."""
    pack(full, tmp_path / "a.zip", now=now)
    unpack(other, tmp_path / "a.zip")
    assert list_parts(other) == list_parts(full)
    assert [load_part(other, one.part_id).text for one in list_parts(other)] == [PART, PART]


def test_the_sound_in_an_archive_is_the_studios_own(full, tmp_path, now):
    """Files lie in the archive as they lie in the studio, so anybody can play them."""
    pack(full, tmp_path / "a.zip", now=now)
    members = _members(tmp_path / "a.zip")
    for kind, content in stored_names(full.folder):
        path = path_of_content(full.folder, kind=kind, content_sha256=content)
        assert members[path.relative_to(full.folder).as_posix()] == path.read_bytes()


def test_an_empty_studio_can_be_packed(studio, other, tmp_path, now):
    """Nothing is something, too."""
    assert pack(studio, tmp_path / "a.zip", now=now) == Packed(rows=0, files=0)
    assert unpack(other, tmp_path / "a.zip") == Packed(rows=0, files=0)


def test_a_studio_that_is_not_empty_is_not_filled(full, other, row, tmp_path, now):
    """Unpacking never mixes two studios."""
    pack(full, tmp_path / "a.zip", now=now)
    import_rows(other, [row], now=now)
    with pytest.raises(Conflict, match="not empty"):
        unpack(other, tmp_path / "a.zip")
    assert stored_names(other.folder) == set()


def test_a_studio_whose_sound_is_gone_is_not_packed(full, tmp_path, now):
    """An archive that lacks a sound is not written."""
    kind, content = sorted(stored_names(full.folder))[-1]
    path_of_content(full.folder, kind=kind, content_sha256=content).unlink()
    with pytest.raises(NotFound, match="is gone from the studio"):
        pack(full, tmp_path / "a.zip", now=now)
    assert not (tmp_path / "a.zip").exists()


@pytest.mark.parametrize(
    "name",
    [
        "../evil.flac",
        "/etc/evil",
        "sound/../../evil.flac",
        "sound/ab/evil.flac",
        "sound\\ab\\evil.flac",
        "studio.sqlite3",
        "rows/../rows/players.jsonl",
        "rows/recipes.jsonl",
        "sound/ab/" + "cd" + "0" * 62 + ".flac",
        "sound/ab/" + "ab" + "0" * 62 + ".exe",
    ],
)
def test_names_that_are_no_part_of_a_studio_are_refused(full, other, tmp_path, now, name):
    """No member can name a place outside the studio's own."""
    pack(full, tmp_path / "a.zip", now=now)
    forged = _forge(tmp_path / "a.zip", changed={name: b"evil"})
    with pytest.raises(BadTable, match="no part of a studio"):
        unpack(other, forged)
    _assert_empty(other)
    assert not list(tmp_path.rglob("*evil*"))


def test_a_member_that_swells_is_refused(full, other, tmp_path, now):
    """A bomb of zeros is refused by what it says of itself."""
    pack(full, tmp_path / "a.zip", now=now)
    forged = _forge(tmp_path / "a.zip", changed={"rows/readings.jsonl": b"\n" * 20_000_000})
    with pytest.raises(BadTable, match="swells beyond reason"):
        unpack(other, forged)
    _assert_empty(other)


def test_a_member_that_hides_its_size_is_refused(full, other, tmp_path, now):
    """A member that says it is smaller than it is gives no more than it says, and is refused."""
    pack(full, tmp_path / "a.zip", now=now)
    data = (tmp_path / "a.zip").read_bytes()
    size = len(_members(tmp_path / "a.zip")["rows/rounds.jsonl"])
    lying = data.replace(size.to_bytes(4, "little"), (size // 2).to_bytes(4, "little"))
    assert lying != data
    (tmp_path / "lying.zip").write_bytes(lying)
    with pytest.raises(BadTable):
        unpack(other, tmp_path / "lying.zip")
    _assert_empty(other)


def test_an_archive_larger_than_the_disk_is_refused(full, other, tmp_path, now, monkeypatch):
    """What cannot fit is not begun."""
    pack(full, tmp_path / "a.zip", now=now)
    usage = unpack.__globals__["shutil"].disk_usage(tmp_path)._replace(free=1000)
    monkeypatch.setattr("shutil.disk_usage", lambda _: usage)
    with pytest.raises(DiskFull, match="no room for this archive"):
        unpack(other, tmp_path / "a.zip")
    _assert_empty(other)


@pytest.mark.parametrize(
    ("table", "field", "wrong", "says"),
    [
        ("players", "name", "", "player is empty"),
        ("players", "added_at", "2027-03-01T10:00:00", "no time zone"),
        ("players", "added_at", "soon", "cannot be"),
        ("players", "id", "1", "where int is wanted"),
        ("players", "id", True, "where int is wanted"),
        ("days", "player_id", 99, "FOREIGN KEY"),
        ("days", "date", 5, "where date is wanted"),
        ("rounds", "tempo_bpm", 0.0, "tempo_bpm = 0"),
        ("rounds", "hand", "both", "hand = 'both'"),
        ("rounds", "ended_written", "vanished", "ended_written = 'vanished'"),
        ("rounds", "extra", [], "where dict is wanted"),
        ("rounds", "count_written", -1, "count_written"),
        ("takes", "content_sha256", "../../etc/passwd", "is not a checksum"),
        ("takes", "kind", "../x", "kind"),
        ("takes", "told", {}, "told is not what a judge is told"),
        ("takes", "told", {"request": {"x": 1}, "notes": None}, "told is not what"),
        ("readings", "ended", None, "null where a value is wanted"),
        ("rounds", "standing", "perhaps", "standing"),
        ("rounds", "standing", None, "null where a value is wanted"),
        ("rounds", "live_key", "a" * 32, "UNIQUE"),
        ("workouts", "plan", {}, "not those of a workout"),
        ("workouts", "plan", [], "where dict is wanted"),
        ("workouts", "progress", {"index": 1}, "not those of a workout"),
        ("workouts", "plan", PLANNED.to_json() | {"rounds": []}, "the workout has 0 rounds"),
        ("workouts", "plan", PLANNED.to_json() | {"proposal": {"a": 1}}, "not those of a workout"),
        ("rounds", "purpose", "fun", "purpose"),
        ("parts", "text", "tempo: 0", "tempo = 0"),
        ("parts", "version", 0, "version"),
        ("parts", "player_id", 99, "FOREIGN KEY"),
        ("workouts", "player_id", 99, "FOREIGN KEY"),
    ],
)
def test_rows_that_cannot_be_are_refused(full, other, tmp_path, now, table, field, wrong, says):
    """Every row of an archive is checked; one that is wrong leaves the studio empty."""
    pack(full, tmp_path / "a.zip", now=now)
    name = f"rows/{table}.jsonl"
    first, *rest = _members(tmp_path / "a.zip")[name].split(b"\n")
    forged_line = json.dumps(json.loads(first) | {field: wrong}).encode()
    forged = _forge(tmp_path / "a.zip", changed={name: b"\n".join([forged_line, *rest])})
    with pytest.raises(BadTable, match=says) as caught:
        unpack(other, forged)
    assert "\n" not in str(caught.value)
    _assert_empty(other)


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (b"[]\n", "not a JSON object"),
        (b"nonsense\n", "not JSON"),
        (b"{}\n", "has other columns"),
        (b"{}", "ends within a line"),
        (b"[" * 100_000 + b"\n", "not JSON"),
        (None, r"lacks rows/players\.jsonl"),
    ],
)
def test_rows_that_are_no_rows_are_refused(full, other, tmp_path, now, rows, says):
    """Whatever stands where rows should be is refused."""
    pack(full, tmp_path / "a.zip", now=now)
    forged = _forge(tmp_path / "a.zip", changed={"rows/players.jsonl": rows})
    with pytest.raises(BadTable, match=says):
        unpack(other, forged)
    _assert_empty(other)


@pytest.mark.parametrize(
    ("manifest", "says"),
    [
        ({"schema": "something/9"}, "schema is 'something/9'"),
        ({"members": {}}, "not those that its manifest names"),
        ({"members": None}, "not those that its manifest names"),
    ],
)
def test_a_manifest_that_does_not_fit_is_refused(full, other, tmp_path, now, manifest, says):
    """The manifest is held to its word."""
    pack(full, tmp_path / "a.zip", now=now)
    with pytest.raises(BadTable, match=says):
        unpack(other, _forge(tmp_path / "a.zip", manifest=manifest))
    _assert_empty(other)


def test_an_archive_of_a_newer_version_is_refused(full, other, tmp_path, now):
    """Rows of tables that we do not know are not guessed at."""
    pack(full, tmp_path / "a.zip", now=now)
    with pytest.raises(NeedsMigration, match="revision '9999'"):
        unpack(other, _forge(tmp_path / "a.zip", manifest={"revision": "9999"}))


def test_the_part_of_a_take_is_packed(full, other, tmp_path, now):
    """A take comes back with its part and what that asked; so does one whose part was deleted."""
    number, gone = (part_with_take(full) for _ in range(2))
    delete_part(full, gone)
    pack(full, tmp_path / "a.zip", now=now)
    unpack(other, tmp_path / "a.zip")
    taken = [part_of_take(other, take_id) for take_id in range(1, 8)]
    assert [each and each.now for each in taken] == [None] * 5 + ["same", "deleted"]
    assert [each.part_id for each in taken if each] == [number, None]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"part_asked": {"limb": "tail"}}, "what a part asks of a limb"),
        ({"part_asked": []}, "where dict is wanted"),
        ({"part_id": 77}, "rows/takes.jsonl"),
    ],
)
def test_a_take_of_a_part_that_cannot_be_is_refused(full, other, tmp_path, now, change, says):
    """What was asked must add up, and the part must be there."""
    part_with_take(full)
    pack(full, tmp_path / "a.zip", now=now)
    lines = _members(tmp_path / "a.zip")[TAKES].splitlines()
    lines[-1] = json.dumps(json.loads(lines[-1]) | change).encode()
    with pytest.raises(BadTable, match=says):
        unpack(other, _forge(tmp_path / "a.zip", changed={TAKES: b"\n".join(lines) + b"\n"}))
    _assert_empty(other)


def test_an_archive_of_the_sixth_revision_is_taken_in(full, other, tmp_path, now):
    """What was packed before takes had parts is read: they have none."""
    packed = pack(full, tmp_path / "a.zip", now=now)
    rows = [json.loads(line) for line in _members(tmp_path / "a.zip")[TAKES].splitlines()]
    for row in rows:
        del row["part_id"], row["part_version"], row["part_asked"]
    changed = {TAKES: b"".join(json.dumps(row).encode() + b"\n" for row in rows)}
    forged = _forge(tmp_path / "a.zip", changed=changed, manifest={"revision": "0006"})
    assert unpack(other, forged) == packed
    assert [part_of_take(other, take_id) for take_id in range(1, 6)] == [None] * 5


@pytest.mark.parametrize("revision", ["0002", "0003"])
def test_an_archive_of_an_earlier_revision_is_taken_in(full, other, tmp_path, now, revision):
    """What was packed before rounds had a purpose is read; a warm-up has its own."""
    with full.act() as session:
        session.scalars(select(Round)).first().standing = "warm-up"
    packed = pack(full, tmp_path / "a.zip", now=now)
    rows = [json.loads(line) for line in _members(tmp_path / "a.zip")[ROUNDS].splitlines()]
    for row in rows:
        del row["purpose"]
    changed = {ROUNDS: b"".join(json.dumps(row).encode() + b"\n" for row in rows)}
    parts = _members(tmp_path / "a.zip")[PARTS].count(b"\n")
    changed[PARTS] = None
    forged = _forge(tmp_path / "a.zip", changed=changed, manifest={"revision": revision})
    assert unpack(other, forged) == replace(packed, rows=packed.rows - parts)
    with other.look() as session:
        purposes = [(each.standing, each.purpose) for each in session.scalars(select(Round))]
    assert sorted(set(purposes)) == [("counts", "round"), ("void", "round"), ("warm-up", "warm-up")]


def test_what_can_be_made_again_is_not_packed(full, other, tmp_path, now):
    """Fits of hands stay behind: they are made anew from the rounds."""
    before = pack(full, tmp_path / "before.zip", now=now)
    kind = {"hand": "left", "places_per_count": 4, "made_on": now.date(), "fingerprint": "a"}
    with full.act() as session:
        number = session.scalar(select(Player.id).limit(1))
        own = {"as_of": now.date(), "stamp": "b", "rounds_mark": "a", "rounds_added": 0}
        session.add(ReachFit(player_id=number, **kind, **own, fit=b"\0\1"))
        session.add(ReachForecast(player_id=number, **kind, origin=now.date(), rounds=[]))
    assert pack(full, tmp_path / "a.zip", now=now) == before
    assert unpack(other, tmp_path / "a.zip") == before


def test_a_damaged_sound_is_refused(full, other, tmp_path, now):
    """A sound whose checksum is not the manifest's is not taken in."""
    pack(full, tmp_path / "a.zip", now=now)
    name = next(name for name in _members(tmp_path / "a.zip") if name.endswith(".flac"))
    with zipfile.ZipFile(tmp_path / "a.zip") as archive:
        said = json.loads(archive.read("manifest.json"))["members"]
    said[name]["sha256"] = "0" * 64
    with pytest.raises(BadTable, match="it is damaged"):
        unpack(other, _forge(tmp_path / "a.zip", manifest={"members": said}))
    _assert_empty(other)


def test_takes_and_sounds_must_be_the_same(full, other, tmp_path, now):
    """A sound that no take names, or a take without its sound, is refused."""
    pack(full, tmp_path / "a.zip", now=now)
    name = next(name for name in _members(tmp_path / "a.zip") if name.endswith(".flac"))
    with pytest.raises(BadTable, match="takes and its files of sound are not the same"):
        unpack(other, _forge(tmp_path / "a.zip", changed={name: None}))
    _assert_empty(other)


def test_a_name_twice_is_refused(full, other, tmp_path, now):
    """Two members of one name are one too many."""
    pack(full, tmp_path / "a.zip", now=now)
    with pytest.warns(UserWarning, match="Duplicate name"):
        forged = _forge(tmp_path / "a.zip", extra=[("rows/days.jsonl", b"")])
    with pytest.raises(BadTable, match="a name twice"):
        unpack(other, forged)


def test_what_is_no_archive_is_refused(other, tmp_path):
    """Other files, other zips, folders and nothing at all are each one sentence."""
    (tmp_path / "text.zip").write_text("not a zip")
    with zipfile.ZipFile(tmp_path / "photos.zip", "w") as archive:
        archive.writestr("photo.jpg", b"")
    with pytest.raises(BadTable, match="not a whole archive"):
        check_archive(tmp_path / "text.zip")
    with pytest.raises(BadTable, match="not packed by Loosehand"):
        unpack(other, tmp_path / "photos.zip")
    with pytest.raises(InputError, match="no archive at"):
        unpack(other, tmp_path / "none.zip")
    with pytest.raises(InputError, match="cannot be read"):
        unpack(other, tmp_path)
    _assert_empty(other)


@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_a_damaged_archive_is_taken_whole_or_refused(full, other, tmp_path, now, data):
    """Wherever an archive is damaged or cut, it is refused, or what it holds is unharmed."""
    path = tmp_path / "a.zip"
    if not path.exists():
        pack(full, path, now=now)
    whole = path.read_bytes()
    at = data.draw(st.integers(0, len(whole) - 1))
    if data.draw(st.booleans()):
        broken = whole[:at]
    else:
        broken = whole[:at] + bytes([whole[at] ^ data.draw(st.integers(1, 255))]) + whole[at + 1 :]
    (tmp_path / "broken.zip").write_bytes(broken)
    try:
        unpack(other, tmp_path / "broken.zip")
    except LoosehandError:
        _assert_empty(other)
        return
    with full.look() as one, other.look() as two:
        assert chart_rounds(one, player=None) == chart_rounds(two, player=None)
    with other.act() as session:
        for table in (
            *("corrections", "readings", "takes", "rounds", "days", "workouts", "parts", "players"),
        ):
            session.connection().exec_driver_sql(f"DELETE FROM {table}")
    for kind, content in stored_names(other.folder):
        path_of_content(other.folder, kind=kind, content_sha256=content).unlink()
