"""What the studio's database holds, as typed tables.

Numbers written by a person (rounds, corrections) and numbers derived from sound (readings) lie
in separate tables: every reading can be made again from its take and carries the version of the
judge that made it. What is made from the rounds alone (fits of hands, scored forecasts) lies in
tables marked ``derived``: it carries a fingerprint of the rounds and the code, and may be dropped.
"""

from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    DateTime,
    Dialect,
    ForeignKey,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

__all__ = [
    "Base",
    "Correction",
    "Day",
    "Part",
    "Player",
    "ReachFit",
    "ReachForecast",
    "Reading",
    "Round",
    "Take",
    "UtcDateTime",
    "Workout",
    "is_derived",
]

_NAMES = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcDateTime(TypeDecorator[datetime]):
    """A moment with its time zone: kept as UTC, given back as UTC, refused without a zone."""

    impl = DateTime
    cache_ok = True

    @property
    def python_type(self) -> type[datetime]:
        """Return what a value is."""
        return datetime

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn a moment into the UTC that is stored."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"moment = {value} has no time zone; want one, such as UTC")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give a stored moment its zone back."""
        return None if value is None else value.replace(tzinfo=UTC)


class Base(DeclarativeBase):
    """Root of the tables."""

    metadata = MetaData(naming_convention=_NAMES)


class Player(Base):
    """A person whose chart is kept."""

    __tablename__ = "players"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(80), unique=True)
    added_at: Mapped[datetime] = mapped_column(UtcDateTime())

    days: Mapped[list["Day"]] = relationship(back_populates="player", order_by="Day.date")


class Day(Base):
    """A player's day on the chart."""

    __tablename__ = "days"
    __table_args__ = (UniqueConstraint("player_id", "date"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    player_id: Mapped[int] = mapped_column(ForeignKey("players.id"))
    date: Mapped[date]

    player: Mapped[Player] = relationship(back_populates="days")
    rounds: Mapped[list["Round"]] = relationship(
        back_populates="day", order_by="Round.order_in_day"
    )


class Round(Base):
    """One hand (or alternating) at one tempo, with its tags.

    ``count_written`` is a number that a person wrote, None where the number comes from a take.
    ``ended_written`` likewise. ``extra`` holds the columns of an imported chart that Loosehand
    does not know. ``standing`` says whether the round counts on the chart; a void one says why in
    ``why_void``. ``purpose`` says what it was for. ``live_key`` names a round of the stand, so that
    it is filed once.
    """

    __tablename__ = "rounds"
    __table_args__ = (
        UniqueConstraint("day_id", "order_in_day"),
        CheckConstraint("hand in ('left', 'right', 'alternating')", name="hand"),
        CheckConstraint("tempo_bpm > 0", name="tempo_bpm"),
        CheckConstraint("places_per_count > 0", name="places_per_count"),
        CheckConstraint("round_s > 0", name="round_s"),
        CheckConstraint("count_written >= 0", name="count_written"),
        CheckConstraint("standing in ('counts', 'warm-up', 'void')", name="standing"),
        CheckConstraint("purpose in ('round', 'test', 'warm-up')", name="purpose"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    day_id: Mapped[int] = mapped_column(ForeignKey("days.id"))
    order_in_day: Mapped[int]
    hand: Mapped[str] = mapped_column(String(12))
    technique: Mapped[str | None] = mapped_column(String(60))
    surface: Mapped[str | None] = mapped_column(String(60))
    loudness: Mapped[str | None] = mapped_column(String(12))
    tempo_bpm: Mapped[float]
    places_per_count: Mapped[int]
    round_s: Mapped[float]
    feel: Mapped[str | None] = mapped_column(String(12))
    count_written: Mapped[int | None]
    ended_written: Mapped[str | None] = mapped_column(String(24))
    extra: Mapped[dict[str, str]] = mapped_column(JSON)
    standing: Mapped[str] = mapped_column(String(12), server_default="counts", default="counts")
    why_void: Mapped[str | None] = mapped_column(String(200))
    purpose: Mapped[str] = mapped_column(String(12), server_default="round", default="round")
    live_key: Mapped[str | None] = mapped_column(String(40), unique=True)
    filed_at: Mapped[datetime] = mapped_column(UtcDateTime())

    day: Mapped[Day] = relationship(back_populates="rounds")
    take: Mapped["Take | None"] = relationship(back_populates="round")
    corrections: Mapped[list["Correction"]] = relationship(
        back_populates="round", order_by="Correction.id"
    )


class Take(Base):
    """What was recorded in a round, and what the judge was told of it.

    ``content_sha256`` names the file in the sound folder; see ``loosehand.studio.sound``.
    ``sound_deleted_at`` is set when the sound was deleted and the numbers were kept.
    Of a take of a part, ``part_asked`` is what the part asked of the limb then, as
    ``loosehand.judge.part_to_hear`` writes it, and ``part_version`` the part's version; both stay
    when the part is changed or deleted, and ``part_id`` is None once it is deleted.
    """

    __tablename__ = "takes"
    __table_args__ = (CheckConstraint("kind in ('sound', 'midi')", name="kind"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), unique=True)
    kind: Mapped[str] = mapped_column(String(8))
    content_sha256: Mapped[str] = mapped_column(String(64), index=True)
    told: Mapped[dict[str, Any]] = mapped_column(JSON)
    filed_at: Mapped[datetime] = mapped_column(UtcDateTime())
    sound_deleted_at: Mapped[datetime | None] = mapped_column(UtcDateTime())
    part_id: Mapped[int | None] = mapped_column(
        ForeignKey("parts.id", ondelete="SET NULL"), index=True
    )
    part_version: Mapped[int | None]
    part_asked: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))

    round: Mapped[Round] = relationship(back_populates="take")
    readings: Mapped[list["Reading"]] = relationship(back_populates="take", order_by="Reading.id")


class Reading(Base):
    """All that one version of the judge measured of a take. The last one made is in force."""

    __tablename__ = "readings"

    id: Mapped[int] = mapped_column(primary_key=True)
    take_id: Mapped[int] = mapped_column(ForeignKey("takes.id"), index=True)
    judge_version: Mapped[str] = mapped_column(String(40))
    made_at: Mapped[datetime] = mapped_column(UtcDateTime())
    count_held: Mapped[int | None]
    ended: Mapped[str] = mapped_column(String(24))
    confidence: Mapped[float | None]
    body: Mapped[dict[str, Any]] = mapped_column(JSON, deferred=True)

    take: Mapped[Take] = relationship(back_populates="readings")


class Correction(Base):
    """A person's number put above another: both are kept, with when and why."""

    __tablename__ = "corrections"
    __table_args__ = (CheckConstraint("count_held >= 0", name="count_held"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    count_before: Mapped[int | None]
    count_held: Mapped[int]
    ended: Mapped[str | None] = mapped_column(String(24))
    why: Mapped[str] = mapped_column(String(400))
    made_at: Mapped[datetime] = mapped_column(UtcDateTime())

    round: Mapped[Round] = relationship(back_populates="corrections")


class Workout(Base):
    """Rounds played one after the other at the stand: what was planned, and how far it got.

    ``plan`` and ``progress`` are as ``loosehand.rounds`` writes them.
    """

    __tablename__ = "workouts"

    id: Mapped[int] = mapped_column(primary_key=True)
    player_id: Mapped[int] = mapped_column(ForeignKey("players.id"))
    key: Mapped[str] = mapped_column(String(40), unique=True)
    plan: Mapped[dict[str, Any]] = mapped_column(JSON)
    progress: Mapped[dict[str, Any]] = mapped_column(JSON)
    began_at: Mapped[datetime] = mapped_column(UtcDateTime())
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime())

    player: Mapped[Player] = relationship()


class Part(Base):
    """What must be played, as ``loosehand.parts.text`` writes it; of one player, or of the studio.

    ``version`` counts the changes, so that of two made at once the second is told of the first.
    """

    __tablename__ = "parts"
    __table_args__ = (CheckConstraint("version > 0", name="version"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    player_id: Mapped[int | None] = mapped_column(ForeignKey("players.id"), index=True)
    title: Mapped[str] = mapped_column(String(200))
    text: Mapped[str] = mapped_column(Text, deferred=True)
    version: Mapped[int]
    added_at: Mapped[datetime] = mapped_column(UtcDateTime())
    changed_at: Mapped[datetime] = mapped_column(UtcDateTime())

    player: Mapped[Player | None] = relationship()


class _KindColumns:
    """Whose hand a fit tells of, and how it plays."""

    hand: Mapped[str] = mapped_column(String(12))
    technique: Mapped[str | None] = mapped_column(String(60))
    surface: Mapped[str | None] = mapped_column(String(60))
    loudness: Mapped[str | None] = mapped_column(String(12))
    places_per_count: Mapped[int]


class ReachFit(_KindColumns, Base):
    """What one hand can hold, as it was fitted. ``fit`` is as ``loosehand.reach.stored`` writes it.

    ``fingerprint`` is of the rounds that went in, the day told of, the notes and the code, and
    ``rounds_mark`` of the same but for the notes; ``rounds_added`` counts rounds since the fit was
    last made from the beginning; ``stamp`` is of the player's whole chart when that was last
    compared. See ``loosehand.studio.reach_store``.
    """

    __tablename__ = "reach_fits"
    __table_args__ = {"info": {"derived": True}}  # noqa: RUF012

    id: Mapped[int] = mapped_column(primary_key=True)
    player_id: Mapped[int] = mapped_column(ForeignKey("players.id", ondelete="CASCADE"), index=True)
    as_of: Mapped[date]
    fingerprint: Mapped[str] = mapped_column(String(64))
    rounds_mark: Mapped[str] = mapped_column(String(64))
    rounds_added: Mapped[int]
    stamp: Mapped[str] = mapped_column(String(64))
    made_on: Mapped[date]
    fit: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)


class ReachForecast(_KindColumns, Base):
    """The rounds of one week as they were foretold from what was there before it, and scored.

    ``origin`` is the week's Monday; ``rounds`` are as ``loosehand.reach.record`` scores them.
    """

    __tablename__ = "reach_forecasts"
    __table_args__ = {"info": {"derived": True}}  # noqa: RUF012

    id: Mapped[int] = mapped_column(primary_key=True)
    player_id: Mapped[int] = mapped_column(ForeignKey("players.id", ondelete="CASCADE"), index=True)
    origin: Mapped[date]
    fingerprint: Mapped[str] = mapped_column(String(64))
    made_on: Mapped[date]
    rounds: Mapped[list[dict[str, Any]]] = mapped_column(JSON)


def is_derived(table: Table) -> bool:
    """Whether a table holds only what can be made again from the rounds."""
    return bool(table.info.get("derived"))
