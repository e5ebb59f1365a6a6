"""The demo studio: invented players, some weeks of chart, a few takes.

Nobody in it is real. The numbers of past weeks are invented and stand on the chart as written by
hand; those of the takes come from the ear, which hears them as it hears anybody's. The same seed
makes the same studio, laid out to end on the day it is made.
"""

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from sqlalchemy import select

from loosehand.errors import NotFound
from loosehand.hear.heard import ListenRequest
from loosehand.studio.chart import player_names
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.database import Studio
from loosehand.studio.filing import RoundPlace, import_rows
from loosehand.studio.hearing import Hearing, Told, hear_stored
from loosehand.studio.intake import hear_and_file
from loosehand.studio.models import Day, Player, Round, Take
from loosehand.studio.round_tags import RoundTags
from loosehand.studio.sound import path_of_content

if TYPE_CHECKING:
    from loosehand.players.performance import Failure, HandAsked

__all__ = ["DEMO_PLAYER", "DemoTake", "make_demo", "next_words"]

DEMO_PLAYER = "Nerys"
_SEED = 20270301
_ROUND_S = 60.0
_WEEKS = 4
_WORKOUT_DAYS = (0, 2, 3, 5)
"""Days of a week with a workout; the others are rest days."""
_TEMPOS_BPM = tuple(range(80, 115, 5))
_SOFTENING_BPM = 8.0
"""How fast the invented hold shortens above a hand's edge. Invented."""


@dataclass(frozen=True)
class _Invented:
    """An invented player: the tempo that each hand holds for about a minute, and its gain."""

    name: str
    left_bpm: float
    right_bpm: float
    gain_bpm: float
    technique: str
    surface: str
    loudness: str


_PLAYERS = (
    _Invented(DEMO_PLAYER, 90.0, 98.0, 5.0, "whip fours", "pad", "medium"),
    _Invented("Tobin", 82.0, 86.0, 3.0, "wrist singles", "pad", "medium"),
    _Invented("Maud", 99.0, 104.0, 1.5, "push-pull", "hat", "soft"),
)


@dataclass(frozen=True)
class _Asked:
    """A take to be played: hand, tempo, how the click is lost and when."""

    hand: "HandAsked"
    tempo_bpm: int
    failure: "Failure | None"
    failure_count: int | None


_TAKES = (
    _Asked("left", 100, "slowing", 41),
    _Asked("right", 100, None, None),
    _Asked("left", 105, "thin to three", 29),
)


@dataclass(frozen=True)
class DemoTake:
    """A take of the demo that was heard just now: where it stands, and its reading as JSON."""

    place: RoundPlace
    body: dict[str, Any]


def make_demo(studio: Studio, *, hearing: Hearing, now: datetime) -> DemoTake:
    """Fill an empty studio with the demo; hear one of its takes again where it is there already.

    Raises
    ------
    NotFound   if the studio is not empty and holds no take of the demo's player
    """
    with studio.look() as session:
        is_empty = not player_names(session)
    if is_empty:
        first, *_ = [
            _file_demo_take(studio, asked, seed, hearing=hearing, now=now)
            for seed, asked in enumerate(_TAKES)
        ]
        import_rows(studio, _invented_rows(now.astimezone().date()), now=now)
        return first
    return _hear_again(studio, hearing=hearing)


def next_words(folder: Path, shown: DemoTake) -> str:
    """Say what to try next.

    Parameters
    ----------
    folder : of the demo studio
    shown : the take that was heard
    """
    studio = f'--studio "{folder}"'
    place = shown.place
    return "\n".join(
        (
            "Try next (with 'python3 start.py' in place of 'loosehand' where it is not installed):",
            f"  loosehand chart {studio} --player {place.player} --rounds",
            f"  loosehand correct {studio} --player {place.player} --order {place.order} \\",
            f'      --day {place.day} --held 40 --why "I counted along"',
            "and with a recording of your own, a minute of sixteenths against a click at 104:",
            "  loosehand hear my-take.m4a --tempo 104 --hand left",
            '  loosehand file my-take.m4a --player "My name" --hand left --tempo 104',
        )
    )


def _invented_rows(today: date) -> list[ChartRow]:
    """Invent the past weeks of all players."""
    return [
        row
        for index, player in enumerate(_PLAYERS)
        for row in _rows_of(player, today, np.random.default_rng([_SEED, index]))
    ]


def _rows_of(player: _Invented, today: date, rng: np.random.Generator) -> list[ChartRow]:
    """Invent a player's past weeks."""
    first = today - timedelta(weeks=_WEEKS)
    rows: list[ChartRow] = []
    for week in range(_WEEKS):
        for weekday in _WORKOUT_DAYS:
            share = (7 * week + weekday) / (7 * _WEEKS)
            form_bpm = player.gain_bpm * share + float(rng.normal(0.0, 1.5))
            day = first + timedelta(weeks=week, days=weekday)
            rows += _workout(player, day, form_bpm=form_bpm, tightens=week == 0, rng=rng)
    return rows


def _workout(
    player: _Invented, day: date, *, form_bpm: float, tightens: bool, rng: np.random.Generator
) -> list[ChartRow]:
    """Invent a workout: each hand up the ladder until two tempos in a row were lost early.

    Rounds that were lost early feel tense, where the player still tightens up; else like work.
    """
    early_feel = "tense" if tightens else "working"
    rows: list[ChartRow] = []
    for hand, edge_bpm in (("left", player.left_bpm), ("right", player.right_bpm)):
        early = 0
        for tempo_bpm in _TEMPOS_BPM:
            above = (tempo_bpm - edge_bpm - form_bpm) / _SOFTENING_BPM
            share = float(np.exp(-above) * rng.lognormal(0.0, 0.12))
            held = min(tempo_bpm, int(tempo_bpm * share))
            feel = early_feel if held < tempo_bpm // 3 else None
            rows.append(_row(player, day, len(rows) + 1, hand, tempo_bpm, held, feel=feel))
            early = early + 1 if held <= 16 else 0
            if early == 2:
                break
    return rows


def _row(
    player: _Invented,
    day: date,
    order: int,
    hand: str,
    tempo_bpm: int,
    held: int,
    *,
    feel: str | None,
) -> ChartRow:
    """Lay out one invented round."""
    return ChartRow(
        day=day,
        order=order,
        player=player.name,
        tags=RoundTags(
            hand=hand,
            tempo_bpm=float(tempo_bpm),
            places_per_count=4,
            round_s=_ROUND_S,
            technique=player.technique,
            surface=player.surface,
            loudness=player.loudness,
            feel=feel,
        ),
        count_held=held,
        ended=None,
    )


def _file_demo_take(
    studio: Studio, asked: _Asked, seed: int, *, hearing: Hearing, now: datetime
) -> DemoTake:
    """Have a simulated player play a take, and file it as anybody's."""
    player = _PLAYERS[0]
    today = now.astimezone().date()
    row = _row(player, today, seed + 1, asked.hand, asked.tempo_bpm, 0, feel=None)
    tags = row.tags
    request = ListenRequest(
        tempo_bpm=tags.tempo_bpm,
        places_per_count=tags.places_per_count,
        hand=asked.hand,
        counts_planned=tags.counts,
        first_count_s=None,
    )
    bare = ChartRow(
        day=row.day, order=row.order, player=row.player, tags=tags, count_held=None, ended=None
    )
    with tempfile.TemporaryDirectory() as passing:
        source = Path(passing) / "take.m4a"
        source.write_bytes(_played(asked, seed))
        place, body = hear_and_file(
            studio, source, bare, Told(request, None), hearing=hearing, now=now
        )
    if place is None:
        raise NotFound("the demo's take could not be heard: nobody plays in it")
    return DemoTake(place, body)


def _played(asked: _Asked, seed: int) -> bytes:
    """Play a take and code it as a phone would."""
    from loosehand.players.codec import encode
    from loosehand.players.people import PlayerTraits, draw_player
    from loosehand.players.play import TakePlan, play
    from loosehand.players.recipe import draw_recipe
    from loosehand.players.sound import render

    rng = np.random.default_rng([_SEED, 100 + seed])
    plan = TakePlan(
        tempo_bpm=float(asked.tempo_bpm),
        places_per_count=4,
        hand=asked.hand,
        counts=asked.tempo_bpm,
        failure=asked.failure,
        failure_count=asked.failure_count,
        slips=0,
        count_in_counts=4,
        downbeat_every=4,
        clicks_per_count=1,
        before_s=1.0,
        clock_ppm=12.0,
    )
    drawn: Iterator[PlayerTraits] = (draw_player(rng) for _ in count())
    player = next(traits for traits in drawn if traits.technique == _PLAYERS[0].technique)
    performance = play(player, plan, rng)
    recipes = (draw_recipe("clean_pad", rng) for _ in count())
    recipe = next(recipe for recipe in recipes if recipe.bleed is not None)
    samples, sample_rate_hz = render(performance, recipe, rng, voices=None)
    return encode(samples, sample_rate_hz, suffix=".m4a", bit_rate=128_000)


def _hear_again(studio: Studio, *, hearing: Hearing) -> DemoTake:
    """Hear the first take of the demo's player that still has its sound."""
    query = (
        select(Take, Day.date, Round.order_in_day)
        .join(Round, Take.round_id == Round.id)
        .join(Day, Round.day_id == Day.id)
        .join(Player, Day.player_id == Player.id)
        .where(Player.name == DEMO_PLAYER, Take.sound_deleted_at.is_(None))
        .order_by(Take.id)
    )
    with studio.look() as session:
        found = session.execute(query).first()
        if found is None:
            raise NotFound(
                f"{studio.folder} is not the demo studio, or its takes are gone: "
                "name another folder with --studio"
            )
        take, day, order = found
        path = path_of_content(studio.folder, kind=take.kind, content_sha256=take.content_sha256)
        told = Told.from_json(take.told)
    body = hear_stored(path, told, hearing=hearing).body
    return DemoTake(RoundPlace(DEMO_PLAYER, day, order), body)
