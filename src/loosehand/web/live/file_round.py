"""From a round's journal to its row on the chart: filed once, judged or void."""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import select

from loosehand.errors import LoosehandError
from loosehand.hear.clock_drift import clock_drift_ppm
from loosehand.hear.heard import ListenRequest
from loosehand.rounds.conduct import Outcome
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.database import Studio
from loosehand.studio.filing import LiveRound, file_take
from loosehand.studio.hearing import Hearing, Judged, Told, hear_stored
from loosehand.studio.models import Round
from loosehand.studio.round_tags import NOT_JUDGED, RoundTags
from loosehand.studio.sound import Incoming, incoming_midi, incoming_sound
from loosehand.web.live.head import RoundHead, head_from_json
from loosehand.web.live.journal import Journal
from loosehand.web.live.round_run import sound_of

__all__ = ["NOBODY_PLAYED", "WENT_AWAY", "file_round", "filed_outcome", "outcome_of_key"]

NOBODY_PLAYED = "nobody played"
WENT_AWAY = "the page went away in the round"
_RELATIVE = (
    "The click's way to the microphone was not measured, so lead and lag are relative: "
    "only their changes say something."
)
_DRIFTS = (
    "The microphone's clock ran {:+.0f} millionths away from the click's: the drift told of the "
    "hand holds that too."
)
_MUCH_DRIFT_S = 0.002
_TICKS_PER_QUARTER = 24_000
_BITS_FREE = 8


def file_round(studio: Studio, journal: Journal, *, hearing: Hearing, now: datetime) -> Outcome:
    """File a round and drop its journal.

    Parameters
    ----------
    studio : the studio
    journal : of the round; where it has no end, the round is void
    hearing : what hears a stored take
    now : the moment, with its zone

    Returns
    -------
    outcome : what came of it

    Raises
    ------
    DiskFull, StoreError   if it cannot be kept; the journal then stays
    """
    head = head_from_json(journal.head)
    end = journal.how_it_ended() or {"ended": None, "void": WENT_AWAY, "capture": None}
    told = _told(head, end, drift_ppm=_drift_ppm(head, journal))
    if not journal.samples and not journal.strokes():
        journal.drop()
        return _outcome(head, None, end["void"] or NOBODY_PLAYED)
    with _incoming(studio, head, journal) as incoming:
        judged = _heard(incoming, told, hearing=hearing)
        void = end["void"] or _why_void(judged)
        standing = "void" if void else "warm-up" if head.planned.kind == "warm-up" else "counts"
        live = LiveRound(head.round, standing, void, head.planned.purpose)
        file_take(studio, incoming, _row(head, end), told, judged, now=now, live=live)
    journal.drop()
    return _outcome(head, judged, void)


def filed_outcome(studio: Studio, journal: Journal) -> Outcome:
    """What came of a round that was filed before; void where it left no row."""
    head = head_from_json(journal.head)
    there = outcome_of_key(studio, head.round, index=head.index, counts=head.planned.counts)
    return _outcome(head, None, NOBODY_PLAYED) if there is None else there


def outcome_of_key(studio: Studio, key: str, *, index: int, counts: int) -> Outcome | None:
    """What came of the round of a key, None where it is not filed."""
    with studio.look() as session:
        found = session.scalar(select(Round).where(Round.live_key == key))
        if found is None:
            return None
        if found.take is None or not found.take.readings:
            return _outcome_of({}, found.why_void or NOBODY_PLAYED, index=index, counts=counts)
        body = found.take.readings[-1].body
        return _outcome_of(body, found.why_void, index=index, counts=counts)


def _outcome(head: RoundHead, judged: Judged | None, void: str | None) -> Outcome:
    body: dict[str, Any] = {} if judged is None else judged.body
    return _outcome_of(body, void, index=head.index, counts=head.planned.counts)


def _outcome_of(body: dict[str, Any], void: str | None, *, index: int, counts: int) -> Outcome:
    return Outcome(
        index=index,
        held=body.get("count_held"),
        counts=counts,
        ended=body.get("ended", NOT_JUDGED),
        void=void,
        feel=None,
    )


def _why_void(judged: Judged | None) -> str | None:
    if judged is None:
        return "the sound could not be read"
    return None if judged.body["strokes"] else NOBODY_PLAYED


def _heard(incoming: Incoming, told: Told, *, hearing: Hearing) -> Judged | None:
    """The reading, None where the sound is too little to be read."""
    try:
        return hear_stored(incoming.path, told, hearing=hearing)
    except LoosehandError:
        return None


def _drift_ppm(head: RoundHead, journal: Journal) -> float | None:
    """By how much the microphone's clock ran away from the click's in the round."""
    if head.acoustics is None or not journal.samples:
        return None
    sound = np.concatenate([sound_of(block) for block in journal.blocks()])
    return clock_drift_ppm(sound, head.acoustics)


def _told(head: RoundHead, end: dict[str, Any], *, drift_ppm: float | None) -> Told:
    """What the judge is told, and what is noted of the capture."""
    request = ListenRequest(
        tempo_bpm=head.planned.tempo_bpm,
        places_per_count=head.planned.places_per_count,
        hand=head.planned.hand,
        counts_planned=head.planned.counts,
        first_count_s=head.first_count_s,
    )
    measured = head.acoustics is None or head.round_trip_s is not None
    notes = [] if measured else [_RELATIVE]
    if drift_ppm is not None and abs(drift_ppm) * 1e-6 * head.planned.round_s > _MUCH_DRIFT_S:
        notes.append(_DRIFTS.format(drift_ppm))
    return Told(
        request,
        notes=None,
        more_notes=(*notes, *end.get("notes", ())),
        acoustics=None if head.acoustics is None else head.acoustics.to_json(),
        capture=None if end["capture"] is None else end["capture"] | {"drift_ppm": drift_ppm},
    )


def _row(head: RoundHead, end: dict[str, Any]) -> ChartRow:
    began = datetime.fromisoformat(head.began_at)
    return ChartRow(
        day=began.astimezone().date(),
        order=None,
        player=head.player,
        tags=RoundTags(
            hand=head.planned.hand,
            tempo_bpm=head.planned.tempo_bpm,
            places_per_count=head.planned.places_per_count,
            round_s=head.planned.round_s,
            technique=head.setting.technique,
            surface=head.setting.surface,
            loudness=head.setting.loudness,
            feel=None,
        ),
        count_held=None,
        ended=end["ended"],
        extra={} if head.setting.grip is None else {"grip": head.setting.grip},
    )


@contextmanager
def _incoming(studio: Studio, head: RoundHead, journal: Journal) -> Iterator[Incoming]:
    """The take as the studio keeps it."""
    if head.acoustics is None:
        with incoming_midi(studio.folder, _midi_file(head, journal.strokes())) as incoming:
            yield incoming
        return
    with incoming_sound(
        studio.folder, _full_words(journal.blocks()), sample_rate_hz=head.sample_rate_hz
    ) as incoming:
        yield incoming


def _full_words(blocks: Iterator[NDArray[np.int32]]) -> Iterator[NDArray[np.int32]]:
    """Samples of 24 bits as the upper bits of 32."""
    for block in blocks:
        yield np.left_shift(block, _BITS_FREE)


def _midi_file(head: RoundHead, strokes: list[dict[str, Any]]) -> bytes:
    """A Standard MIDI File of format 0 at the round's tempo, its time that of the take."""
    import mido

    file = mido.MidiFile(type=0, ticks_per_beat=_TICKS_PER_QUARTER)
    track = mido.MidiTrack()
    file.tracks.append(track)
    quarter_us = round(6e7 / head.planned.tempo_bpm)
    track.append(mido.MetaMessage("set_tempo", tempo=quarter_us, time=0))
    # The file's tempo is whole microseconds: ticks are counted by that, or time would run away.
    per_s = 1e6 * _TICKS_PER_QUARTER / quarter_us
    last = 0
    for stroke in sorted(strokes, key=lambda each: each["frame"]):
        time_s = (stroke["frame"] - head.start_frame) / head.sample_rate_hz
        tick = max(round(time_s * per_s), last)
        track.append(
            mido.Message(
                "note_on",
                channel=9,
                note=stroke["note"],
                velocity=stroke["velocity"],
                time=tick - last,
            )
        )
        track.append(mido.Message("note_off", channel=9, note=stroke["note"], time=1))
        last = tick + 1
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()
