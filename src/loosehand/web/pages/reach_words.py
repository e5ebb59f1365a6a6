"""Figures and sentences of the page of the reach, in plain words. None of them cheers."""

from datetime import date

from loosehand.reach.compare import Crossover
from loosehand.reach.reach import Interval, Reach, Reaching
from loosehand.web.pages.chart_period import day_words

__all__ = [
    "HYPOTHESIS",
    "LAW_WORDS",
    "beyond_words",
    "bpm",
    "chance_sentence",
    "crossover_words",
    "drawn_as",
    "improved_words",
    "length_sign",
    "length_words",
    "percent",
    "percent_sign",
    "reaching_words",
    "so_often",
    "span",
    "trend_words",
]

HYPOTHESIS = (
    "That sticks have a critical stroke rate, under which a hand does not run down, is our own "
    "hypothesis, taken over from what is known of whole-body effort; it is not a published finding."
)
LAW_WORDS = {
    "hyperbolic": "a tempo held without end, and a reserve above it that is used up",
    "top rate": "the same, with a tempo that is not passed however short the time",
    "log-linear": "each doubling of the time costs the same tempo; nothing is held without end",
}
_EVEN = 0.5
_HOLDS = "for holds from 5 seconds to 8 minutes"
_MINUS = "\N{MINUS SIGN}"


def bpm(value: float) -> str:
    """A tempo to a tenth; a true minus where it is below nought.

    Examples
    --------
    >>> bpm(99.84), bpm(-0.34), bpm(-0.04)
    ('99.8', '−0.3', '0.0')
    """
    return f"{round(value, 1) + 0.0:.1f}".replace("-", _MINUS)


def span(found: Interval) -> str:
    """Bounds of a figure: '99.8 to 102.7'."""
    return f"{bpm(found.low80)} to {bpm(found.high80)}"


def percent(chance: float) -> str:
    """A chance in whole percent; never none and never all.

    Examples
    --------
    >>> percent(0.824), percent(0.001), percent(0.998)
    ('82 %', 'under 1 %', 'over 99 %')
    """
    if chance < 0.01:
        return "under 1 %"
    if chance > 0.99:
        return "over 99 %"
    return f"{100.0 * chance:.0f} %"


def percent_sign(chance: float) -> str:
    """A chance in whole percent, as short as it can be written.

    Examples
    --------
    >>> percent_sign(0.824), percent_sign(0.001), percent_sign(0.998)
    ('82 %', '<1 %', '>99 %')
    """
    return percent(chance).replace("under ", "<").replace("over ", ">")


def so_often(chance: float) -> str:
    """A chance in words.

    Examples
    --------
    >>> so_often(0.98), so_often(0.52), so_often(0.02)
    ('nearly always', 'about 5 times in 10', 'hardly ever')
    """
    if chance > 0.95:
        return "nearly always"
    if chance < 0.05:
        return "hardly ever"
    times = min(max(round(10.0 * chance), 1), 9)
    return f"about {times} time{'s' if times > 1 else ''} in 10"


def length_words(time_s: float) -> str:
    """A length in words.

    Examples
    --------
    >>> length_words(60.0), length_words(210.0), length_words(30.0)
    ('a minute', '3.5 minutes', '30 seconds')
    """
    if time_s == 60.0:
        return "a minute"
    if time_s < 60.0:
        return f"{time_s:g} seconds"
    return f"{time_s / 60.0:.4g} minutes"


def length_sign(time_s: float) -> str:
    """A length, as short as it can be written.

    Examples
    --------
    >>> length_sign(60.0), length_sign(210.0), length_sign(30.0)
    ('1 min', '3.5 min', '30 s')
    """
    return f"{time_s:g} s" if time_s < 60.0 else f"{time_s / 60.0:.4g} min"


def beyond_words(reach: Reach, time_s: float) -> str:
    """Say that a length was never seen to be held; nothing where it was."""
    if not reach.is_beyond_seen(time_s):
        return ""
    return f"No hold of {length_words(time_s)} was seen yet: this goes beyond what was seen."


def chance_sentence(reach: Reach, *, tempo_bpm: float, time_s: float) -> str:
    """Say how likely a tempo is held for a time."""
    chance = reach.chance_of_holding(tempo_bpm=tempo_bpm, time_s=time_s)
    told = (
        f"{tempo_bpm:g} for {length_words(time_s)}: {percent(chance)}, {so_often(chance)}, "
        "by a rested hand on a day like any other."
    )
    return " ".join(filter(None, (told, beyond_words(reach, time_s))))


def trend_words(reach: Reach) -> list[str]:
    """Say how the tempo held for a minute moves."""
    if len(reach.days) < 2:
        return ["One day alone shows no trend."]
    gain, shows = reach.trend_bpm_per_month(), reach.smallest_change_bpm()
    told = [
        f"Gain a month, as the last four weeks went: {bpm(gain.median)} ({span(gain)}, with 80 "
        "chances in 100).",
        f"The smallest gain a month that rounds like these would show is {bpm(shows)}.",
    ]
    if reach.is_plateau():
        told.append(
            "The tempo stands still: the days and rounds vary, but what lies under them does not "
            "move."
        )
    elif abs(gain.median) < shows:
        told.append("What is found is smaller than that, so it may be none.")
    return told


def improved_words(reach: Reach, since: date) -> str:
    """Say how likely the hand is better than on a day."""
    if since == reach.as_of or len(reach.days) < 2:
        return "Whether it is better than before cannot be told from one day."
    chance = reach.probability_improved(since)
    return f"Chance that the hand is better than on {day_words(since)}: {percent(chance)}."


def reaching_words(found: Reaching, *, tempo_bpm: float, time_s: float, as_of: date) -> str:
    """Say when a target is reached, if the trend goes on."""
    target = f"{tempo_bpm:g} for {length_words(time_s)}"
    if found.median == as_of:
        return f"{target} is held with even chance already, on a day of average form."
    if found.earliest is None:
        return (
            f"{target}: not within a year, if the trend goes on (chance {percent(found.chance)})."
        )
    if found.median is None:
        return (
            f"{target}: more likely not within a year than within it, if the trend goes on "
            f"(chance within it {percent(found.chance)})."
        )
    if found.latest is None:
        return (
            f"{target}: by {day_words(found.median)} with even chance, if the trend goes on; with "
            "9 chances in 10 not within a year."
        )
    return (
        f"{target}: between {_day_or_now(found.earliest, as_of)} and {day_words(found.latest)}, "
        f"with even chance by {day_words(found.median)}, if the trend goes on."
    )


def _day_or_now(day: date | None, as_of: date) -> str:
    assert day is not None, "there is an earliest day"
    return "now" if day == as_of else day_words(day)


def crossover_words(found: Crossover, *, one: str, other: str) -> str:
    """Say where two techniques cross.

    Parameters
    ----------
    found : the crossing
    one, other : names of the techniques
    """
    if found.tempo_bpm is None or found.chance < _EVEN:
        apart = 1.0 - found.chance
        likely, share = one, found.one_throughout
        if share < apart / 2.0:
            likely, share = other, apart - share
        return (
            f"{one[:1].upper()}{one[1:]} and {other} more likely do not cross: {likely} is held "
            f"longer at every tempo with {percent(share)}, {_HOLDS}. The chance that they cross is "
            f"{percent(found.chance)}."
        )
    above, below, sure = one, other, found.one_above
    if sure < _EVEN:
        above, below, sure = other, one, 1.0 - sure
    return (
        f"Above {bpm(found.tempo_bpm.median)} ({span(found.tempo_bpm)}) {above} is held longer, "
        f"below it {below}: {percent(found.chance * sure)} that they cross so, "
        f"{percent(found.chance)} that they cross at all, {_HOLDS}."
    )


def drawn_as(reach: Reach) -> str:
    """The hold-time curve in words, for those who do not see it."""
    said = [
        f"{bpm(reach.tempo_held_bpm(time_s).median)} for {length_words(time_s)}"
        for time_s in (10.0, 60.0, 120.0, 240.0)
    ]
    return (
        "Tempo across, time held up. The curve falls as tempo rises: "
        f"{', '.join(said)}. Longest hold seen: {reach.longest_held_s:.0f} seconds."
    )
