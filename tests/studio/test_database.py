"""Opening a studio: its tables, its steps, its refusals."""

import os
import sqlite3
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, select, text

import loosehand.studio.migrations
from loosehand.errors import NotFound, StoreError
from loosehand.studio.chart import chart_rounds
from loosehand.studio.database import DATABASE_NAME, REVISION, default_folder, open_studio
from loosehand.studio.models import (
    Base,
    Correction,
    Player,
    ReachFit,
    Reading,
    Round,
    Take,
    Workout,
)
from loosehand.studio.part_takes import part_of_take
from tests.studio.part_take_scenes import part_with_take


def test_a_studio_is_made_in_wal_mode_with_foreign_keys(studio):
    """A new studio's database is set up as the house wants it."""
    with studio.look() as session:
        assert session.scalar(text("PRAGMA journal_mode")) == "wal"
        assert session.scalar(text("PRAGMA foreign_keys")) == 1


@pytest.mark.skipif(os.name != "posix", reason="folders have no such rights here")
def test_a_new_studio_is_its_owners_alone(tmp_path):
    """Recordings are private: nobody else may look into the folder."""
    open_studio(tmp_path / "private", create=True, busy_timeout_s=0.2).close()
    assert (tmp_path / "private").stat().st_mode & 0o077 == 0


def test_the_steps_lead_to_the_models(studio):
    """The tables after all steps are those of the models, constraints included."""
    with studio.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_the_revision_is_the_last_step():
    """The revision that the code knows is the last of the steps."""
    config = Config()
    config.set_main_option(
        "script_location", str(Path(loosehand.studio.migrations.__file__).parent)
    )
    assert ScriptDirectory.from_config(config).get_current_head() == REVISION


def test_opening_again_changes_nothing(studio, now):
    """What was kept is there after closing and opening."""
    with studio.act() as session:
        session.add(Player(name="Ines", added_at=now))
    studio.close()
    again = open_studio(studio.folder, create=False, busy_timeout_s=0.2)
    with again.look() as session:
        assert session.scalar(select(Player.added_at)) == now


def test_looking_for_a_studio_makes_none(tmp_path):
    """A studio is made only by those who put something into it."""
    with pytest.raises(NotFound, match="no studio at"):
        open_studio(tmp_path / "none", create=False, busy_timeout_s=0.2)
    assert not (tmp_path / "none").exists()


def test_an_act_that_fails_leaves_nothing(studio, now):
    """All of an act is kept, or nothing."""

    def act_that_fails():
        with studio.act() as session:
            session.add(Player(name="Ines", added_at=now))
            session.flush()
            raise RuntimeError

    with pytest.raises(RuntimeError):
        act_that_fails()
    with studio.look() as session:
        assert session.scalar(select(Player.id)) is None


def test_a_look_sees_what_was_kept_while_another_acts(studio, now):
    """Reading does not wait for writing."""
    with studio.act() as session:
        session.add(Player(name="Ines", added_at=now))
        session.flush()
        with studio.look() as other:
            assert other.scalar(select(Player.id)) is None


def test_a_file_that_is_no_database_is_refused(tmp_path):
    """A file of another kind under the database's name is not touched."""
    path = tmp_path / DATABASE_NAME
    path.write_bytes(b"not a database, but long enough to look like something" * 40)
    before = path.read_bytes()
    with pytest.raises(StoreError, match="damaged or is not a studio's database"):
        open_studio(tmp_path, create=True, busy_timeout_s=0.2)
    assert path.read_bytes() == before


def test_another_programs_database_is_refused(tmp_path):
    """A database that is not a studio's is not touched."""
    with sqlite3.connect(tmp_path / DATABASE_NAME) as connection:
        connection.execute("CREATE TABLE recipes (id INTEGER)")
    connection.close()
    with pytest.raises(StoreError, match="not a studio's database"):
        open_studio(tmp_path, create=True, busy_timeout_s=0.2)


def test_a_folder_that_is_a_file_is_refused(tmp_path):
    """A file where the folder should be is one sentence."""
    (tmp_path / "file").write_text("here")
    with pytest.raises(StoreError, match=r"cannot use .*file"):
        open_studio(tmp_path / "file", create=True, busy_timeout_s=0.2)


def test_the_usual_folder_is_the_users():
    """Unless told otherwise the studio lies in the user's own data folder."""
    folder = default_folder()
    assert folder.is_absolute()
    assert folder.parts[-2:] == ("loosehand", "studio")


OLD_ROWS = """
INSERT INTO players VALUES (1, 'Ines', '2026-01-02 10:00:00'), (2, 'Otto', '2026-01-02 10:00:00');
INSERT INTO days VALUES (7, 1, '2026-01-03'), (8, 2, '2026-01-03');
INSERT INTO rounds VALUES
  (3, 7, 1, 'left', 'whip fours', 'pad', 'loud', 104, 4, 60, 'tense', NULL, NULL, '{"a": "b"}',
   '2026-01-03 10:00:00'),
  (4, 8, 1, 'right', NULL, NULL, NULL, 90.5, 4, 60, NULL, 33, 'stopped', '{}',
   '2026-01-03 11:00:00');
INSERT INTO takes VALUES (5, 3, 'sound', 'HASH', '{"request": {}}', '2026-01-03 10:00:00', NULL);
INSERT INTO readings VALUES
  (6, 5, '0.2', '2026-01-03 10:00:00', 37, 'lost the click', 0.9, '{"count_held": 37}');
INSERT INTO corrections VALUES (9, 3, 37, 40, NULL, 'a chair', '2026-01-03 12:00:00');
"""


SIXTH_ROWS = """
INSERT INTO players VALUES (1, 'Ines', '2026-01-02 10:00:00');
INSERT INTO days VALUES (7, 1, '2026-01-03');
INSERT INTO rounds (id, day_id, order_in_day, hand, tempo_bpm, places_per_count, round_s, extra,
  filed_at) VALUES (3, 7, 1, 'left', 90, 4, 60, '{}', '2026-01-03 10:00:00');
INSERT INTO takes VALUES (5, 3, 'sound', 'HASH', '{"request": {}}', '2026-01-03 10:00:00', NULL);
INSERT INTO readings VALUES
  (6, 5, '0.2', '2026-01-03 10:00:00', 37, 'lost the click', 0.9, '{"count_held": 37}');
"""


def at_revision(folder, revision, rows):
    """Make a database as an older version left it: some of the steps, and rows."""
    folder.mkdir()
    engine = create_engine(f"sqlite:///{folder / DATABASE_NAME}")
    config = Config()
    config.set_main_option(
        "script_location", str(Path(loosehand.studio.migrations.__file__).parent)
    )
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, revision)
        for statement in rows.split(";")[:-1]:
            connection.exec_driver_sql(statement)
    engine.dispose()


def test_a_studio_of_the_first_revision_is_brought_up_to_date(tmp_path):
    """Every row of an older studio is kept, its rounds count, and the new tables are there."""
    at_revision(tmp_path / "old", "0001", OLD_ROWS.replace("HASH", "a" * 64))
    studio = open_studio(tmp_path / "old", create=False, busy_timeout_s=0.2)
    with studio.look() as session:
        assert session.scalar(text("SELECT version_num FROM alembic_version")) == REVISION
        assert session.scalar(text("PRAGMA foreign_keys")) == 1
        rounds = chart_rounds(session, player=None)
        ines, otto = sorted(rounds, key=lambda found: found.row.player)
        assert (ines.row.count_held, ines.count_read, ines.why) == (40, 37, "a chair")
        assert (ines.row.tags.technique, ines.row.tags.feel) == ("whip fours", "tense")
        assert ines.row.extra == {"a": "b"}
        assert (otto.row.count_held, otto.row.ended) == (33, "stopped")
        for found in session.scalars(select(Round)):
            assert (found.standing, found.why_void, found.live_key) == ("counts", None, None)
            assert found.purpose == "round"
        ids = [session.scalars(select(table.id)).all() for table in (Take, Reading, Correction)]
        assert ids == [[5], [6], [9]]
        assert session.scalars(select(Workout)).all() == []
    with studio.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []
    studio.close()


def test_warm_ups_of_the_third_revision_have_their_purpose(tmp_path):
    """Rounds had no purpose before: a warm-up is known by its standing, none was a test."""
    rows = """
    INSERT INTO players VALUES (1, 'Ines', '2026-01-02 10:00:00');
    INSERT INTO days VALUES (7, 1, '2026-01-03');
    INSERT INTO rounds (id, day_id, order_in_day, hand, tempo_bpm, places_per_count, round_s, extra,
      filed_at, standing) VALUES
      (1, 7, 1, 'alternating', 60, 4, 60, '{}', '2026-01-03 10:00:00', 'warm-up'),
      (2, 7, 2, 'left', 90, 4, 60, '{}', '2026-01-03 10:02:00', 'counts'),
      (3, 7, 3, 'left', 95, 4, 60, '{}', '2026-01-03 10:04:00', 'void');
    """
    at_revision(tmp_path / "old", "0003", rows)
    studio = open_studio(tmp_path / "old", create=False, busy_timeout_s=0.2)
    with studio.look() as session:
        found = session.scalars(select(Round).order_by(Round.id)).all()
        assert [each.purpose for each in found] == ["warm-up", "round", "round"]
    studio.close()


def test_takes_of_the_sixth_revision_are_of_no_part(tmp_path):
    """Takes and their readings are kept; a take that is filed now may have a part."""
    at_revision(tmp_path / "old", "0006", SIXTH_ROWS.replace("HASH", "a" * 64))
    studio = open_studio(tmp_path / "old", create=False, busy_timeout_s=0.2)
    with studio.look() as session:
        (take,) = session.scalars(select(Take))
        assert (take.id, take.part_id, take.part_version, take.part_asked) == (5, None, None, None)
        assert [reading.id for reading in take.readings] == [6]
    assert part_of_take(studio, 5) is None
    part_with_take(studio)
    assert part_of_take(studio, 6).now == "same"
    studio.close()


def test_fits_of_the_fourth_revision_are_made_again(tmp_path):
    """What cannot be gone on with is dropped: it is made of the rounds, which stay."""
    rows = """
    INSERT INTO players VALUES (1, 'Ines', '2026-01-02 10:00:00');
    INSERT INTO reach_fits (id, player_id, hand, places_per_count, as_of, fingerprint, stamp,
      made_on, fit) VALUES (1, 1, 'left', 4, '2026-01-03', 'a', 'b', '2026-01-03', x'00');
    """
    at_revision(tmp_path / "old", "0004", rows)
    studio = open_studio(tmp_path / "old", create=False, busy_timeout_s=0.2)
    with studio.look() as session:
        assert session.scalars(select(ReachFit.id)).all() == []
        assert session.scalar(select(Player.name)) == "Ines"
    studio.close()


def test_what_was_brought_up_to_date_still_holds_together(tmp_path):
    """Afterwards, too, the database refuses to lose what others point to."""
    at_revision(tmp_path / "old", "0001", OLD_ROWS.replace("HASH", "a" * 64))
    studio = open_studio(tmp_path / "old", create=False, busy_timeout_s=0.2)

    def delete_a_round():
        with studio.act() as session:
            session.connection().exec_driver_sql("DELETE FROM rounds WHERE id = 3")

    with pytest.raises(StoreError, match="FOREIGN KEY"):
        delete_a_round()
    studio.close()


def test_an_old_studio_that_does_not_hold_together_is_left_as_it_was(tmp_path):
    """A take without its round stops the steps; nothing of the database is changed."""
    folder = tmp_path / "old"
    at_revision(folder, "0001", OLD_ROWS.replace("HASH", "a" * 64))
    with sqlite3.connect(folder / DATABASE_NAME) as connection:
        connection.execute("DELETE FROM rounds WHERE id = 3")
    connection.close()
    with pytest.raises(StoreError, match="point to rows that are gone"):
        open_studio(folder, create=False, busy_timeout_s=0.2)
    with sqlite3.connect(folder / DATABASE_NAME) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
        columns = [row[1] for row in connection.execute("PRAGMA table_info(rounds)")]
    connection.close()
    assert "standing" not in columns
