"""A take: what was heard of it, drawn, in words and to listen to, and whose number stands."""

from collections.abc import Mapping
from datetime import date, datetime, tzinfo
from pathlib import Path
from typing import Any

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.routing import Route

from loosehand.errors import InputError, NotFound, StoreError
from loosehand.judge.hold import LEEWAY
from loosehand.studio.care import CARE_SHORT
from loosehand.studio.filing import correct_count, delete_sound
from loosehand.studio.hearing import nobody_plays
from loosehand.studio.part_take_words import NO_BREAK
from loosehand.studio.round_tags import HELD_TO_THE_END, check_count, check_word
from loosehand.studio.take_sheet import TakeSheet, load_take
from loosehand.studio.take_sound import CountTimes, TakeSound, waveform, with_click, without_click
from loosehand.studio.take_words import (
    evenness_figures,
    hand_in_words,
    hand_place_names,
    hold_figures,
    place_names,
    recording_figures,
)
from loosehand.studio.technique_words import drive_sounds, is_of_older_kind, technique_sentences
from loosehand.web.desk import desk_of, page
from loosehand.web.live.said import void_reason
from loosehand.web.pages.take_part import against_part
from loosehand.web.plots.take_axis import HoldShown, TimeAxis, time_axis
from loosehand.web.plots.take_places import draw_places
from loosehand.web.plots.take_plots import draw_waveform
from loosehand.web.plots.take_timing import count_figures, draw_asynchrony
from loosehand.web.wav_answer import wav_answer

__all__ = ["ROUTES"]

Json = dict[str, Any]

_HANDS = ("left", "right")


# ------------------------------------------------------------------ answers


def _take(request: Request) -> Response:
    sheet = _sheet_of(request)
    zone = desk_of(request).now().tzinfo
    against = against_part(desk_of(request).studio, sheet)
    values: Json = {
        "sheet": sheet,
        "body": sheet.body,
        "day": _day_in_words(sheet.place.day),
        "hand": hand_in_words(sheet.tags.hand),
        "tags": _tags_in_words(sheet),
        "numbers": [_number_row(sheet, index, zone) for index in range(len(sheet.numbers))],
        "shows_numbers": bool(sheet.corrected) or len(sheet.read) > 1,
        "standing_words": _standing_in_words(sheet),
        "care": CARE_SHORT,
        "against": against,
        "here": "take",
    }
    heard = _heard(sheet, zone)
    if against is not None:
        # Never the technique told without the part: it has the part's own accents for faults.
        heard["technique_words"] = against["technique_words"]
    return page(request, "take.html", **values, **heard)


def _sound(request: Request) -> Response:
    sheet = _sheet_of(request)
    path = _sound_path(sheet)
    click = request.query_params.get("click")
    if click is None:
        return FileResponse(path, media_type="audio/flac")
    check_word(click, field="click", words=("with", "without"))
    return wav_answer(request, _changed_sound(sheet, path, click))


async def _break(request: Request) -> Response:
    """Put a person's number above what stood."""
    form = await request.form()
    return await run_in_threadpool(_correct, request, _words_of(form))


async def _drop_sound(request: Request) -> Response:
    """Delete the sound of a take and keep its numbers."""
    form = await request.form()
    return await run_in_threadpool(_drop, request, _words_of(form))


ROUTES = [
    Route("/take/{take_id:int}", _take, name="take"),
    Route("/take/{take_id:int}/sound", _sound, name="take-sound"),
    Route("/take/{take_id:int}/break", _break, methods=["POST"], name="take-break"),
    Route("/take/{take_id:int}/drop-sound", _drop_sound, methods=["POST"], name="take-drop-sound"),
]


def _correct(request: Request, words: Mapping[str, str]) -> Response:
    sheet = _sheet_of(request)
    desk = desk_of(request)
    count = check_count(words.get("count_held", ""), counts=sheet.tags.counts)
    correct_count(
        desk.studio,
        sheet.place,
        count_held=count,
        ended=None,
        why=words.get("why", ""),
        now=desk.now(),
    )
    return _back_to(sheet)


def _drop(request: Request, words: Mapping[str, str]) -> Response:
    sheet = _sheet_of(request)
    if words.get("yes") != "yes":
        raise InputError("the sound was kept: tick the box that says yes to have it deleted")
    desk = desk_of(request)
    place = sheet.place
    delete_sound(desk.studio, player=place.player, day=place.day, order=place.order, now=desk.now())
    return _back_to(sheet)


def _sheet_of(request: Request) -> TakeSheet:
    return load_take(desk_of(request).studio, request.path_params["take_id"])


def _back_to(sheet: TakeSheet) -> Response:
    return RedirectResponse(f"/take/{sheet.take_id}", status_code=303)


def _words_of(form: Mapping[str, Any]) -> dict[str, str]:
    """Fields of a form that hold words; files are passed over."""
    return {name: word for name, word in form.items() if isinstance(word, str)}


# ------------------------------------------------------------------ the sound


def _sound_path(sheet: TakeSheet) -> Path:
    """Where the sound lies.

    Raises
    ------
    NotFound   if there is none
    """
    if sheet.sound_path is None or sheet.kind != "sound":
        raise NotFound(f"take {sheet.take_id} has no sound to play: {_no_sound(sheet, None)}")
    return sheet.sound_path


def _changed_sound(sheet: TakeSheet, path: Path, click: str) -> TakeSound:
    """The sound with its click taken out, or with a clear one added."""
    if click == "with":
        counts = _count_times(sheet.body)
        if counts is None:
            raise NotFound("no counts were found in this take, so no click can be added at them")
        return with_click(path, counts)
    tempo_bpm = sheet.told.request.tempo_bpm or (sheet.body or {}).get("tempo_bpm")
    if tempo_bpm is None:
        raise NotFound("no tempo was found in this take, so its click cannot be found either")
    return without_click(path, count_s=60.0 / tempo_bpm)


def _count_times(body: Json | None) -> CountTimes | None:
    """Where the reading has its counts."""
    if body is None or body["first_count_s"] is None or not body["tempo_bpm"]:
        return None
    return CountTimes(body["first_count_s"], 60.0 / body["tempo_bpm"], body["counts_offered"] or 0)


def _no_sound(sheet: TakeSheet, zone: tzinfo | None) -> str | None:
    """Say why there is no sound, None where there is."""
    if sheet.sound_deleted_at is not None:
        when = _moment_in_words(sheet.sound_deleted_at, zone)
        return f"its sound was deleted on {when}, and the numbers were kept."
    if sheet.sound_path is None:
        return "its file is not in the studio's folder any more; the numbers are."
    if sheet.kind == "midi":
        return "it is MIDI, so its strokes and their levels come from the notes."
    return None


# ------------------------------------------------------------------ what was heard


def _heard(sheet: TakeSheet, zone: tzinfo | None) -> Json:
    """What the template shows of the reading and the sound."""
    body = sheet.body
    no_sound = _no_sound(sheet, zone)
    if body is None:
        return {"plots": None, "no_sound": no_sound, "player": None, "silence": "none"}
    axis = time_axis(body)
    extent, no_sound = _extent(sheet, axis, no_sound)
    hold = _hold_shown(sheet, axis)
    figures = count_figures(body["strokes"])
    return {
        "silence": _silence(body),
        "no_sound": no_sound,
        "axis": axis,
        "player": None if extent is None else _player(body),
        "plots": _plots(body, axis, extent, hold),
        "hold_words": hold_figures(body),
        "evenness_words": _evenness_words(body),
        "technique_words": technique_sentences(body),
        "drive_sounds": drive_sounds(body),
        "older_version": _older_version(sheet, body),
        "recording_words": recording_figures(body),
        "counts": [(figure, figure.count <= (sheet.count_held or 0)) for figure in figures],
        "has_places": bool(figures),
        "places_per_count": body["places_per_count"],
    }


def _older_version(sheet: TakeSheet, body: Json) -> str | None:
    """The version that read a take whose technique this one would hear better, if it can."""
    if sheet.sound_path is None or not sheet.read or not is_of_older_kind(body):
        return None
    return sheet.read[-1].judge_version


def _silence(body: Json) -> str | None:
    """Say what kind of nothing was heard, if any."""
    if body["count_held"] is None:
        return "not judged"
    return "nobody plays" if nobody_plays(body) else None


def _extent(sheet: TakeSheet, axis: TimeAxis, no_sound: str | None) -> tuple[Any, str | None]:
    """The waveform, or why there is none."""
    if no_sound is not None or sheet.sound_path is None:
        return None, no_sound
    try:
        return waveform(sheet.sound_path, columns=int(axis.span)), None
    except StoreError as error:
        return None, f"{error}."


def _player(body: Json) -> Json:
    """What the player of the sound may offer."""
    return {
        "click_heard": body["quality"].get("click_level_db") is not None,
        "counts_found": _count_times(body) is not None,
    }


def _hold_shown(sheet: TakeSheet, axis: TimeAxis) -> HoldShown:
    held, ended = sheet.count_held, sheet.ended
    read = sheet.read[-1].count_held if sheet.read else None
    short = held is not None and held < axis.counts
    return HoldShown(
        count_held=held,
        count_read=None if read == held else read,
        broke=short and ended not in NO_BREAK,
        why=ended or ("lost the click" if short else HELD_TO_THE_END),
    )


def _plots(body: Json, axis: TimeAxis, extent: Any, hold: HoldShown) -> dict[str, Markup]:
    """Every plot that can be drawn, by name."""
    alternating = body["hand"] == "alternating"
    drawn = {
        "waveform": draw_waveform(
            axis, extent=extent, strokes=body["strokes"], hold=hold, alternating=alternating
        )
    }
    if axis.counts and any(stroke["count"] is not None for stroke in body["strokes"]):
        drawn |= _asynchrony_plots(body, axis, hold)
    return drawn | _place_plots(body)


def _asynchrony_plots(body: Json, axis: TimeAxis, hold: HoldShown) -> dict[str, Markup]:
    """Asynchrony by count: of all strokes, and of each hand of an alternating take."""
    evenness = body["evenness"]
    alternating = body["hand"] == "alternating"
    # Each hand of an alternating take has every other place, and is judged by those.
    places = body["places_per_count"] / (2 if alternating else 1)
    leeway_ms = 1e3 * LEEWAY * 60.0 / body["tempo_bpm"] / places
    streams = {"all": (body["strokes"], evenness, body["tiring"])}
    if alternating:
        for hand in _HANDS:
            own = [stroke for stroke in body["strokes"] if stroke["hand"] == hand]
            streams[hand] = (own, (evenness.get("hands") or {}).get(hand) or {}, {})
    return {
        f"asynchrony_{name}": draw_asynchrony(
            axis,
            count_figures(strokes),
            name=f"asynchrony-{name}",
            hold=hold,
            lead_ms=own.get("lead_ms"),
            leeway_ms=leeway_ms,
            tiring=tiring,
            title=f"How early or late: {'all strokes' if name == 'all' else f'{name} hand'}",
        )
        for name, (strokes, own, tiring) in streams.items()
        if any(stroke["count"] is not None for stroke in strokes)
    }


def _place_plots(body: Json) -> dict[str, Markup]:
    """Timing and level by place: of all strokes, or of each hand of an alternating take."""
    evenness, places = body["evenness"], body["places_per_count"]
    hands = evenness.get("hands") or {}
    streams = {hand: (hands.get(hand) or {}, hand_place_names(body, hand)) for hand in _HANDS}
    streams["all"] = (evenness, place_names(places))
    return {
        f"{kind}_{name}": draw_places(
            own["places"],
            names,
            kind=kind,
            name=f"{kind}-{name}",
            title=f"{kind.capitalize()} by place{'' if name == 'all' else f', {name} hand'}",
        )
        for name, (own, names) in streams.items()
        if own.get("places")
        for kind in ("timing", "level")
    }


def _evenness_words(body: Json) -> list[tuple[str, Any]]:
    """Evenness in words: of all strokes, and of each hand of an alternating take."""
    relative_only = body["grid_source"] == "strokes"
    hands = body["evenness"].get("hands") or {}
    streams = [("", body["evenness"])]
    streams += [(f"{hand.capitalize()} hand", hands.get(hand) or {}) for hand in _HANDS]
    found = [(name, evenness_figures(own, relative_only=relative_only)) for name, own in streams]
    return [(name, figures) for name, figures in found if figures]


# ------------------------------------------------------------------ words


def _tags_in_words(sheet: TakeSheet) -> str:
    tags = sheet.tags
    words = [
        f"{tags.places_per_count} places a count",
        tags.technique,
        tags.surface,
        tags.loudness,
        f"{round(tags.round_s, 1):g} s",
        None if tags.feel is None else f"felt {tags.feel}",
    ]
    return ", ".join(word for word in words if word)


def _standing_in_words(sheet: TakeSheet) -> str | None:
    """Say why the round is not on the chart, None where it is."""
    if sheet.standing == "void":
        why = void_reason(sheet.why_void or "nobody said why")
        return f"This round is void and not on the chart: {why.rstrip('.')}."
    if sheet.standing == "warm-up":
        return "This round was a warm-up: it is kept, and is not on the chart."
    return None


def _number_row(sheet: TakeSheet, index: int, zone: tzinfo | None) -> Json:
    """A number that was given, as a row of the table."""
    given = sheet.numbers[index]
    stands = index == 0
    said = sheet.ended if stands else given.ended
    return {
        "stands": stands,
        "who": "a person" if given.by_person else f"the machine, version {given.judge_version}",
        "count": "not judged" if given.count_held is None else str(given.count_held),
        "ended": said or "",
        "when": _moment_in_words(given.given_at, zone),
        "why": given.why or "",
    }


def _day_in_words(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _moment_in_words(moment: datetime, zone: tzinfo | None) -> str:
    local = moment.astimezone(zone)
    return f"{_day_in_words(local.date())}, {local:%H:%M}"
