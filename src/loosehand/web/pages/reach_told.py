"""How the reach is told: its record, its laws, and what it takes for granted."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from loosehand.errors import NotIdentifiable
from loosehand.judge.share_interval import wilson
from loosehand.reach.alternatives import dates_by_curve
from loosehand.reach.pool import leaning_prior
from loosehand.reach.prior import NOBODY_KNOWN
from loosehand.reach.reach import Interval, Reach
from loosehand.reach.record import ForecastRecord, ReliabilityBin
from loosehand.reach.seen import hand_rate_factor
from loosehand.studio.reach_lean import donor_reach
from loosehand.web.pages.chart_period import day_words
from loosehand.web.pages.reach_words import LAW_WORDS, bpm, percent
from loosehand.web.plots.reach_record import RecordBin, draw_record

__all__ = [
    "CurveRow",
    "CurvesView",
    "LawRow",
    "RecordView",
    "curves_view",
    "law_rows",
    "prior_words",
    "record_view",
    "recovery_rows",
    "recovery_words",
]

_FEW_ROUNDS = 30
_LEAST_RECORD_ROUNDS = 20
_CURVE_WORDS = {
    "straight": "in a straight line",
    "exponential": "and levels off (exponential, Heathcote and others 2000)",
    "power": "and levels off (power, Newell and Rosenbloom 1981)",
}


@dataclass(frozen=True)
class LawRow:
    """A law: its name, what it says, its held-out score, its weight, whether it was chosen."""

    law: str
    words: str
    score: str
    weight: str
    chosen: bool


@dataclass(frozen=True)
class RecordView:
    """The record of past forecasts, laid out.

    Attributes
    ----------
    svg : the picture, None where there is too little for one
    words : sentences
    rows : chance foretold, share held, rounds
    """

    svg: Markup | None
    words: tuple[str, ...]
    rows: tuple[tuple[str, str, int], ...]


@dataclass(frozen=True)
class CurveRow:
    """A practice curve: its words, when it reaches a target, the level it nears, its share."""

    words: str
    reached: str
    nears: str
    share: str


@dataclass(frozen=True)
class CurvesView:
    """Practice curves, laid out: rows, or why there are none."""

    rows: tuple[CurveRow, ...]
    sentence: str | None


def curves_view(reach: Reach, *, tempo_bpm: float, time_s: float, last: date) -> CurvesView:
    """Lay out when a target is reached as practice may bend.

    Parameters
    ----------
    tempo_bpm, time_s : the target
    last : day after which nothing is asked

    Raises
    ------
    BadTempo, InputError   if tempo or time cannot be
    """
    try:
        found = dates_by_curve(reach, tempo_bpm=tempo_bpm, time_s=time_s, last=last)
    except NotIdentifiable:
        too_few = "How practice bends cannot be told yet: that takes three days that tell of it."
        return CurvesView((), too_few)
    rows = tuple(
        CurveRow(
            _CURVE_WORDS[each.curve],
            _reached(each.reached, reach.as_of),
            "no level" if each.asymptote_bpm is None else bpm(each.asymptote_bpm),
            percent(each.weight),
        )
        for each in found
    )
    return CurvesView(rows, None)


def _reached(day: date | None, as_of: date) -> str:
    if day is None:
        return "not within a year"
    return "already" if day == as_of else day_words(day)


def record_view(record: ForecastRecord | None) -> RecordView:
    """Lay the record of past forecasts out.

    Parameters
    ----------
    record : of the hand, or None where there is none
    """
    if record is None:
        too_few = (
            "No forecast was checked yet: that takes ten rounds and a later week with more. It is "
            "done beside these pages, once a day, or by the command 'loosehand refit'."
        )
        return RecordView(None, (too_few,), ())
    words = [
        f"In {_so_many(record.origins, 'past week')} each round was foretold from what was known "
        f"before the week began: {_so_many(record.rounds, 'round')} in all.",
        _within_words(record),
        _score_words(record),
    ]
    if record.rounds < _LEAST_RECORD_ROUNDS:
        words.append("These are too few to say whether the forecasts can be relied on.")
    bins = [_bin(each) for each in record.reliability]
    svg = draw_record(
        bins,
        title="Chances foretold, and what became of them",
        words=" ".join(
            f"Foretold {percent(each.chance)}: held {100 * each.share:.0f} % of {each.rounds}."
            for each in bins
        ),
    )
    rows = tuple((percent(each.chance), f"{100 * each.share:.0f} %", each.rounds) for each in bins)
    return RecordView(svg, tuple(words), rows)


def _within_words(record: ForecastRecord) -> str:
    """Say how many counts lay in the intervals foretold."""
    if not record.rounds_in_doubt:
        return "All of them were foretold as nearly sure, so no interval could be tried."
    low, high = wilson(record.share_in_80, record.rounds_in_doubt)
    return (
        f"Of the {_so_many(record.rounds_in_doubt, 'round')} in doubt, "
        f"{100 * record.share_in_80:.0f} % of the counts held lay in the intervals that should "
        f"hold 80 % (so few can tell {100 * low:.0f} to {100 * high:.0f} %)."
    )


def _bin(found: ReliabilityBin) -> RecordBin:
    low, high = wilson(found.share_held, found.rounds)
    return RecordBin(found.mean_chance, found.share_held, low, high, found.rounds)


def _score_words(record: ForecastRecord) -> str:
    better = record.mean_log_score > record.baseline_log_score
    return (
        f"Mean log score a round {_score(record.mean_log_score)}, "
        f"{'better' if better else 'not better'} than {_score(record.baseline_log_score)} of a "
        "guess from past shares alone (nearer to nought is better)."
    )


def law_rows(reach: Reach) -> list[LawRow]:
    """The laws that were weighed against each other."""
    return [
        LawRow(
            each.law,
            LAW_WORDS[each.law],
            _score(each.held_out_score),
            percent(each.weight),
            each.law == reach.law,
        )
        for each in reach.laws
    ]


def _score(score: float) -> str:
    """A score to two places, or that there is none."""
    if not math.isfinite(score):
        return "could not be tried"
    return f"{score:.2f}".replace("-", "\N{MINUS SIGN}")


def recovery_words(reach: Reach) -> str:
    """Say where the time of recovery comes from."""
    if reach.recovery_is_told:
        return (
            "How fast this hand recovers in rests is weighed by the order of its rounds; it "
            "begins from a stated belief, which is not a finding."
        )
    return (
        "How fast this hand recovers in rests cannot be told from these rounds: what is taken "
        "is a stated belief, not a finding."
    )


def recovery_rows(reach: Reach) -> list[tuple[str, str, str]]:
    """How the answer moves with half the time of recovery, with it, and with its double."""
    return [
        (f"{each.recovery_s:g} s", bpm(each.minute_bpm), bpm(each.four_minutes_bpm))
        for each in reach.recovery
    ]


def prior_words(reach: Reach, every: Sequence[Reach]) -> str | None:
    """What was believed beforehand, said where few rounds stand against it.

    Parameters
    ----------
    every : reaches of the person, on one of which this may lean
    """
    if reach.rounds >= _FEW_ROUNDS:
        return None
    donor = donor_reach(reach, every)
    prior = NOBODY_KNOWN if donor is None else leaning_prior(reach.kind, donor)
    of_whom = (
        "of anybody's hand beforehand"
        if donor is None
        else "beforehand, of anybody's hand and of one that leans on another of the same person"
    )
    factor = hand_rate_factor(reach.kind)
    believed = Interval.of_normal(prior.minute_bpm, prior.minute_sd_bpm)
    return (
        f"So few rounds leave room for what is believed {of_whom}: "
        f"{prior.minute_bpm / factor:.0f} for a minute ({believed.low80 / factor:.0f} to "
        f"{believed.high80 / factor:.0f}), common practice, no source."
    )


def _so_many(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
