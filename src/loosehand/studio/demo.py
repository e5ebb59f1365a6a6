"""The demo studio: invented players, some weeks of chart, a few takes.

Nobody in it is real. The numbers of past weeks are invented and stand on the chart as written by
hand; those of the takes come from the ear, which hears them as it hears anybody's. The same seed
makes the same studio, laid out to end on the day it is made.
"""

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
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
from loosehand.studio.part_examples import EXAMPLES
from loosehand.studio.parts_store import add_part
from loosehand.studio.round_tags import RoundTags
from loosehand.studio.sound import path_of_content

if TYPE_CHECKING:
    from loosehand.players.charts import ChartRound
    from loosehand.players.performance import Failure, HandAsked

__all__ = ["DEMO_PLAYER", "DemoTake", "make_demo", "next_words"]

DEMO_PLAYER = "Nerys"
_SEED = 20270301
_ROUND_S = 60.0
_WEEKS = 10
_WORKOUT_DAYS = (0, 2, 3, 5)
"""Days of a week with a workout; the others are rest days."""


@dataclass(frozen=True)
class _Invented:
    """An invented player: the tempo that each hand holds for a minute, and its gain a month."""

    name: str
    left_bpm: float
    right_bpm: float
    gain_bpm: float
    technique: str
    surface: str
    loudness: str


_PLAYERS = (
    _Invented(DEMO_PLAYER, 95.0, 103.0, 2.5, "whip fours", "pad", "medium"),
    _Invented("Tobin", 85.0, 89.0, 1.5, "wrist singles", "pad", "medium"),
    _Invented("Maud", 100.0, 105.0, 0.5, "push-pull", "hat", "soft"),
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
_PARTS = ("Sixteenths over a whole tune", "Triplets")
"""Parts of the demo, the first one made first."""


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
        for title in _PARTS:
            add_part(studio, EXAMPLES[title], player=None, now=now)
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
    """Invent a player's past weeks: a ladder of both hands on every day with a workout.

    Rounds that were lost early feel tense in the first week, while the player still tightens up;
    after that like work.
    """
    from loosehand.players.charts import ChartPlayer, LadderHabit, play_ladders

    hands = {
        hand: ChartPlayer(
            law="hyperbolic",
            minute_bpm=minute_bpm,
            short_lead_bpm=8.0,
            top_s=0.0,
            gain_bpm_per_month=player.gain_bpm,
            day_form_bpm=1.5,
            time_noise=0.15,
            tempo_noise_bpm=0.8,
            recovery_s=30.0,
            lapse_share=0.01,
        )
        for hand, minute_bpm in (("left", player.left_bpm), ("right", player.right_bpm))
    }
    days = [7 * week + weekday for week in range(_WEEKS) for weekday in _WORKOUT_DAYS]
    habit = LadderHabit(below_edge_bpm=15.0, round_s=_ROUND_S)
    first = today - timedelta(weeks=_WEEKS)
    return [
        _row(
            player,
            first + timedelta(days=each.day),
            each,
            early_feel="tense" if each.day < 7 else "working",
        )
        for each in play_ladders(hands, days, rng, habit=habit)
    ]


def _row(player: _Invented, day: date, found: "ChartRound", *, early_feel: str) -> ChartRow:
    """Lay out one invented round; it has ``early_feel`` if it was lost early."""
    tags = _tags(player, found.hand, found.tempo_bpm)
    feel = early_feel if found.count_held < tags.counts // 3 else None
    return ChartRow(
        day=day,
        order=found.order,
        player=player.name,
        tags=replace(tags, feel=feel),
        count_held=found.count_held,
        ended=None,
    )


def _tags(player: _Invented, hand: str, tempo_bpm: float) -> RoundTags:
    return RoundTags(
        hand=hand,
        tempo_bpm=float(tempo_bpm),
        places_per_count=4,
        round_s=_ROUND_S,
        technique=player.technique,
        surface=player.surface,
        loudness=player.loudness,
        feel=None,
    )


def _file_demo_take(
    studio: Studio, asked: _Asked, seed: int, *, hearing: Hearing, now: datetime
) -> DemoTake:
    """Have a simulated player play a take, and file it as anybody's."""
    player, today = _PLAYERS[0], now.astimezone().date()
    tags = _tags(player, asked.hand, asked.tempo_bpm)
    request = ListenRequest(
        tempo_bpm=tags.tempo_bpm,
        places_per_count=tags.places_per_count,
        hand=asked.hand,
        counts_planned=tags.counts,
        first_count_s=None,
    )
    bare = ChartRow(
        day=today, order=seed + 1, player=player.name, tags=tags, count_held=None, ended=None
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
