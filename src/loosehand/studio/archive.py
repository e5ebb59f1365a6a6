"""A whole studio in one file, and back again, equal.

A zip with ``manifest.json`` (schema, revision of the database, when it was packed, and of every
other member its size and SHA-256), ``rows/<table>.jsonl`` (one row a line; tables of what can be
made again are left out) and the files of ``sound/`` under the names the studio keeps them by.
Packing streams, unpacking too. Unpacking trusts nothing: only members of the manifest, only names
of these forms, no member that swells beyond reason, every checksum, every row checked.
"""

import hashlib
import json
import re
import shutil
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import IO, Any

from sqlalchemy import JSON, Column, Table, func, insert, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from loosehand.errors import BadTable, Conflict, DiskFull, InputError, NeedsMigration, NotFound
from loosehand.judge.part_to_hear import PartToHear
from loosehand.rounds.conduct import Conductor
from loosehand.studio.database import REVISION, Studio, store_errors
from loosehand.studio.hearing import Told
from loosehand.studio.models import Base, Player, is_derived
from loosehand.studio.parts_store import check_part_text
from loosehand.studio.round_tags import ENDED, RoundTags, check_player, check_tags, check_word
from loosehand.studio.sound import (
    Incoming,
    Kind,
    incoming_stream,
    keep,
    path_of_content,
)
from loosehand.studio.whole_files import passing_beside, take_name
from loosehand.studio.workouts import workout_of_stored

__all__ = ["SCHEMA", "Packed", "check_archive", "pack", "unpack"]

SCHEMA = "loosehand.archive/1"
_MANIFEST = "manifest.json"
_FIRST_REVISION = "0002"
"""Archives are read from here on: later steps added tables and columns."""
_SINCE = {"parts": "0006"}
"""Tables that archives of revisions before do not hold."""
_OF_A_PART = {"part_id": None, "part_version": None, "part_asked": None}
"""What a take says of its part, since 0007; of none."""
_SOUND_NAME = re.compile(r"sound/([0-9a-f]{2})/(\1[0-9a-f]{62})\.(flac|mid)")
_KINDS: dict[str, Kind] = {"flac": "sound", "mid": "midi"}
_MOST_MANIFEST_BYTES = 256_000_000
_MOST_LINE_BYTES = 64_000_000
_MOST_MEMBERS = 1_000_000
_MOST_SWELLING = 200
_SMALL_BYTES = 1_000_000
_BLOCK_BYTES = 1 << 20
_ROWS_A_BATCH = 200
_EPOCH = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True)
class Packed:
    """What an archive holds: rows of the database and files of sound."""

    rows: int
    files: int


def pack(studio: Studio, path: Path, *, now: datetime) -> Packed:
    """Pack a studio into one file, written whole or not at all.

    Raises
    ------
    NotFound     if a sound that a row names is gone
    DiskFull     if there is no room
    StoreError   if the file cannot be written
    """
    with studio.look() as session, store_errors(path.parent), passing_beside(path) as passing:
        with zipfile.ZipFile(passing, "w", zipfile.ZIP_DEFLATED) as archive:
            members: dict[str, dict[str, Any]] = {}
            rows = sum(_pack_table(archive, members, session, table) for table in _tables())
            names = _sound_names(session)
            for name in names:
                _pack_sound(archive, members, studio.folder / name, name)
            _pack_manifest(archive, members, now=now)
        take_name(passing, path)
    return Packed(rows=rows, files=len(names))


def unpack(studio: Studio, path: Path) -> Packed:
    """Fill an empty studio from an archive: all of it, or nothing.

    Raises
    ------
    Conflict         if the studio is not empty
    BadTable         if the file is not an archive of ours, or is damaged
    NeedsMigration   if the archive comes from another version
    DiskFull         if there is no room
    """
    with _open_archive(path) as archive:
        return _unpack(studio, archive)


def check_archive(path: Path) -> None:
    """Check an archive's outside before a studio is made for it. Raises as ``unpack``."""
    with _open_archive(path) as archive:
        _read_manifest(archive)


@contextmanager
def _open_archive(path: Path) -> Iterator[zipfile.ZipFile]:
    """Open an archive; say in a sentence what is wrong with it."""
    try:
        with zipfile.ZipFile(path) as archive:
            yield archive
    except FileNotFoundError as error:
        raise InputError(f"there is no archive at {path}") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise BadTable(f"{path} is not a whole archive: {error}") from error
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror or error}") from error


def _tables() -> list[Table]:
    """Tables that are packed: those that cannot be made again from the others."""
    return [table for table in Base.metadata.sorted_tables if not is_derived(table)]


def _pack_table(
    archive: zipfile.ZipFile, members: dict[str, dict[str, Any]], session: Session, table: Table
) -> int:
    """Write a table's rows, a line each; return how many."""
    count = 0

    def write(out: IO[bytes]) -> None:
        nonlocal count
        for row in session.execute(select(table).order_by(table.c.id)).mappings():
            line = json.dumps({name: _to_json(row[name]) for name in table.c.keys()})  # noqa: SIM118
            out.write(line.encode("ascii") + b"\n")
            count += 1

    _pack_member(archive, members, _rows_name(table), zipfile.ZIP_DEFLATED, write)
    return count


def _pack_sound(
    archive: zipfile.ZipFile, members: dict[str, dict[str, Any]], path: Path, name: str
) -> None:
    """Write a sound as it is."""
    try:
        with path.open("rb") as stream:
            _pack_member(
                archive,
                members,
                name,
                zipfile.ZIP_STORED,
                lambda out: shutil.copyfileobj(stream, out, _BLOCK_BYTES),
            )
    except FileNotFoundError as error:
        raise NotFound(
            f"the sound {name} is gone from the studio: delete it there first"
        ) from error


def _pack_member(
    archive: zipfile.ZipFile,
    members: dict[str, dict[str, Any]],
    name: str,
    compression: int,
    write: Callable[[IO[bytes]], None],
) -> None:
    """Write a member and note its size and checksum."""
    entry = zipfile.ZipInfo(name, _EPOCH)
    entry.compress_type = compression
    entry.external_attr = 0o600 << 16
    with archive.open(entry, "w", force_zip64=True) as out:
        counted = _CountedWriter(out)
        write(counted)  # type: ignore[arg-type]
    members[name] = {"bytes": counted.count, "sha256": counted.digest.hexdigest()}


class _CountedWriter:
    """Passes bytes on, counts them and takes their checksum."""

    def __init__(self, out: IO[bytes]) -> None:
        self._out = out
        self.count = 0
        self.digest = hashlib.sha256()

    def write(self, data: bytes) -> int:
        """Write."""
        self.count += len(data)
        self.digest.update(data)
        return self._out.write(data)


def _pack_manifest(archive: zipfile.ZipFile, members: Mapping[str, Any], *, now: datetime) -> None:
    """Write the list of all that the archive holds."""
    manifest = {
        "schema": SCHEMA,
        "revision": REVISION,
        "packed_at": now.astimezone(UTC).isoformat(),
        "members": members,
    }
    entry = zipfile.ZipInfo(_MANIFEST, _EPOCH)
    entry.external_attr = 0o600 << 16
    archive.writestr(entry, json.dumps(manifest, indent=1, sort_keys=True), zipfile.ZIP_DEFLATED)


def _sound_names(session: Session) -> list[str]:
    """Names of the files that rows name."""
    takes = Base.metadata.tables["takes"]
    query = select(takes.c.kind, takes.c.content_sha256).where(takes.c.sound_deleted_at.is_(None))
    return sorted({_sound_name(kind, content) for kind, content in session.execute(query)})


def _sound_name(kind: str, content: str) -> str:
    """Name of a sound in the archive: the path below the studio's folder."""
    return path_of_content(Path(), kind=kind, content_sha256=content).as_posix()


def _unpack(studio: Studio, archive: zipfile.ZipFile) -> Packed:
    """Check the archive's outside, then fill the studio in one act."""
    members = _read_manifest(archive)
    _check_room(studio.folder, archive)
    sounds = sorted(name for name in members if _SOUND_NAME.fullmatch(name))
    with ExitStack() as passing:
        incoming = [
            passing.enter_context(_incoming_sound(studio.folder, archive, name, members[name]))
            for name in sounds
        ]
        with studio.act() as session:
            if session.scalar(select(func.count()).select_from(Player)):
                raise Conflict(
                    f"the studio at {studio.folder} is not empty: "
                    "unpack into a new one with --studio"
                )
            rows = sum(_unpack_table(session, archive, table, members) for table in _tables())
            if _sound_names(session) != sounds:
                raise BadTable("the archive's takes and its files of sound are not the same")
            for file in incoming:
                keep(studio.folder, file)
    return Packed(rows=rows, files=len(sounds))


def _read_manifest(archive: zipfile.ZipFile) -> dict[str, dict[str, Any]]:
    """Read and check the manifest; return the members it names."""
    names = [entry.filename for entry in archive.infolist()]
    if len(names) > _MOST_MEMBERS or len(set(names)) != len(names):
        raise BadTable("the archive holds a name twice, or too many")
    if _MANIFEST not in names:
        raise BadTable(f"the archive holds no {_MANIFEST}: it was not packed by Loosehand")
    manifest = _json_object(_read_small(archive, _MANIFEST), what=_MANIFEST)
    if manifest.get("schema") != SCHEMA:
        raise BadTable(f"the archive's schema is {manifest.get('schema')!r}; want {SCHEMA!r}")
    if not _is_read(manifest.get("revision")):
        raise NeedsMigration(
            f"the archive holds revision {manifest.get('revision')!r} of the studio's tables; "
            f"this Loosehand reads {REVISION!r}: unpack it with the version that packed it"
        )
    members = manifest.get("members")
    if not isinstance(members, dict) or set(members) != set(names) - {_MANIFEST}:
        raise BadTable("the archive's members are not those that its manifest names")
    for name, said in members.items():
        _check_member(archive.getinfo(name), said)
    for table in _tables():
        if _rows_name(table) not in members and manifest["revision"] >= _SINCE.get(table.name, ""):
            raise BadTable(f"the archive lacks {_rows_name(table)}")
    return members


def _is_read(revision: Any) -> bool:
    """Whether an archive of a revision can be read: revisions are numbered in order."""
    is_number = isinstance(revision, str) and len(revision) == 4 and revision.isdecimal()
    return is_number and int(_FIRST_REVISION) <= int(revision) <= int(REVISION)


def _check_member(entry: zipfile.ZipInfo, said: Any) -> None:
    """Check a member's name, its size and how much it swells."""
    rows = {_rows_name(table) for table in _tables()}
    if entry.filename not in rows and not _SOUND_NAME.fullmatch(entry.filename):
        raise BadTable(f"the archive holds {entry.filename[:60]!r}, which is no part of a studio")
    if not isinstance(said, dict) or said.get("bytes") != entry.file_size:
        raise BadTable(f"the size of {entry.filename} is not what the manifest says")
    _check_swelling(entry)


def _check_swelling(entry: zipfile.ZipInfo) -> None:
    """Refuse a member that grows beyond reason when it is unpacked."""
    if entry.file_size > _SMALL_BYTES and entry.file_size > _MOST_SWELLING * entry.compress_size:
        raise BadTable(f"{entry.filename[:60]!r} in the archive swells beyond reason; refused")


def _check_room(folder: Path, archive: zipfile.ZipFile) -> None:
    """Refuse an archive that the disk cannot hold."""
    need = sum(entry.file_size for entry in archive.infolist())
    with store_errors(folder):
        if need > shutil.disk_usage(folder).free:
            raise DiskFull(
                f"the disk that holds {folder} has no room for this archive ({need} bytes): "
                "make room and try again; nothing was changed"
            )


def _incoming_sound(
    folder: Path, archive: zipfile.ZipFile, name: str, said: Mapping[str, Any]
) -> AbstractContextManager[Incoming]:
    """Unpack one sound under a passing name."""
    match = _SOUND_NAME.fullmatch(name)
    assert match is not None
    return incoming_stream(
        folder,
        _checked_blocks(archive, name, said),
        kind=_KINDS[match[3]],
        content_sha256=match[2],
    )


def _checked_blocks(
    archive: zipfile.ZipFile, name: str, said: Mapping[str, Any]
) -> Iterator[bytes]:
    """Yield the bytes of a member; its checksum is checked at the end."""
    digest = hashlib.sha256()
    with archive.open(name) as stream:
        while block := stream.read(_BLOCK_BYTES):
            digest.update(block)
            yield block
    if digest.hexdigest() != said.get("sha256"):
        raise BadTable(f"the checksum of {name} is not what the manifest says: it is damaged")


def _unpack_table(
    session: Session, archive: zipfile.ZipFile, table: Table, members: Mapping[str, Any]
) -> int:
    """Fill a table; return how many rows."""
    name = _rows_name(table)
    if name not in members:
        return 0
    batch: list[dict[str, Any]] = []
    count = 0
    for line in _lines(_checked_blocks(archive, name, members[name]), what=name):
        count += 1
        raw = _with_later_columns(table, _json_object(line, what=name))
        batch.append(_row(table, raw, line=count))
        if len(batch) == _ROWS_A_BATCH:
            _insert(session, table, batch)
            batch = []
    _insert(session, table, batch)
    return count


def _lines(blocks: Iterator[bytes], *, what: str) -> Iterator[bytes]:
    """Cut blocks into lines."""
    rest = b""
    for block in blocks:
        *lines, rest = (rest + block).split(b"\n")
        yield from lines
        if len(rest) > _MOST_LINE_BYTES:
            raise BadTable(f"{what} in the archive has a line without end")
    if rest:
        raise BadTable(f"{what} in the archive ends within a line")


def _insert(session: Session, table: Table, batch: list[dict[str, Any]]) -> None:
    """Insert rows, naming the table where they contradict each other."""
    if not batch:
        return
    try:
        session.execute(insert(table), batch)
    except IntegrityError as error:
        raise BadTable(f"{_rows_name(table)} in the archive: {error.orig}") from error


def _with_later_columns(table: Table, raw: Mapping[str, Any]) -> Mapping[str, Any]:
    """Add to a row of an older archive what came later: the purpose of a round, a take's part."""
    if table.name == "rounds" and "purpose" not in raw:
        return {**raw, "purpose": "warm-up" if raw.get("standing") == "warm-up" else "round"}
    if table.name == "takes" and not raw.keys() & _OF_A_PART.keys():
        return {**raw, **_OF_A_PART}
    return raw


def _row(table: Table, raw: Mapping[str, Any], *, line: int) -> dict[str, Any]:
    """Check a row and turn it into the values that the table takes."""
    where = f"{_rows_name(table)} line {line} in the archive"
    if set(raw) != set(table.c.keys()):
        raise BadTable(f"{where} has other columns than {', '.join(table.c.keys())}")
    try:
        row = {
            column.name: _from_json(raw[column.name], _kind_of(column), column.nullable)
            for column in table.c
        }
        _check_row(table.name, row)
    except InputError as error:
        raise BadTable(f"{where}: {error}") from error
    except (ValueError, OverflowError) as error:
        raise BadTable(f"{where} holds a value that cannot be: {error}") from error
    return row


def _check_row(table: str, row: dict[str, Any]) -> None:
    """Check what the database cannot."""
    if table == "players":
        check_player(row["name"])
    elif table == "rounds":
        check_tags(RoundTags(**{name: row[name] for name in RoundTags.__dataclass_fields__}))
    elif table == "takes":
        _check_take(row)
    elif table == "workouts":
        _check_workout(row)
    elif table == "parts":
        check_part_text(row["text"])
    for name in ("ended", "ended_written"):
        if row.get(name) is not None:
            check_word(row[name], field=name, words=ENDED)


def _check_take(row: dict[str, Any]) -> None:
    """Check that a take names its file by a checksum, and what its judge was told."""
    if not re.fullmatch("[0-9a-f]{64}", row["content_sha256"]):
        raise BadTable(f"content_sha256 = {row['content_sha256'][:70]!r} is not a checksum")
    try:
        Told.from_json(row["told"])
    except (KeyError, TypeError) as error:
        raise BadTable(f"told is not what a judge is told: {error}") from error
    if row["part_asked"] is not None:
        PartToHear.from_json(row["part_asked"])


def _check_workout(row: dict[str, Any]) -> None:
    """Check that a workout can be gone on with."""
    try:
        planned, _ = workout_of_stored(row["plan"], row["progress"])
        if row["progress"]:
            Conductor(planned, waits=False).resume(row["progress"])
    except (KeyError, TypeError) as error:
        raise BadTable(f"plan and progress are not those of a workout: {error}") from error


def _to_json(value: Any) -> Any:
    """Turn a value of the database into what JSON holds."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return value.isoformat() if isinstance(value, date) else value


def _kind_of(column: Column[Any]) -> type:
    """Return what a column's values are."""
    return dict if isinstance(column.type, JSON) else column.type.python_type


def _from_json(value: Any, kind: type, nullable: bool | None) -> Any:
    """Turn a value of JSON into what the database takes."""
    if value is None:
        if not nullable:
            raise ValueError("null where a value is wanted")
        return None
    if kind is datetime and isinstance(value, str):
        return _moment(value)
    if kind is date and isinstance(value, str):
        return date.fromisoformat(value)
    if kind is float and type(value) is int:
        return float(value)
    if type(value) is not kind:
        raise ValueError(f"{str(value)[:40]!r} where {kind.__name__} is wanted")
    return value


def _moment(text: str) -> datetime:
    """Read a moment that has its zone."""
    found = datetime.fromisoformat(text)
    if found.tzinfo is None:
        raise ValueError(f"{text[:40]!r} has no time zone")
    return found


def _json_object(data: bytes, *, what: str) -> dict[str, Any]:
    """Read one JSON object."""
    try:
        found = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise BadTable(f"{what} in the archive is not JSON: {error}") from error
    if not isinstance(found, dict):
        raise BadTable(f"{what} in the archive is not a JSON object")
    return found


def _read_small(archive: zipfile.ZipFile, name: str) -> bytes:
    """Read a member into memory, if it is small enough."""
    entry = archive.getinfo(name)
    _check_swelling(entry)
    if entry.file_size > _MOST_MANIFEST_BYTES:
        raise BadTable(f"{name} in the archive is too long")
    return archive.read(name)


def _rows_name(table: Table) -> str:
    """Name of a table's rows in the archive."""
    return f"rows/{table.name}.jsonl"
