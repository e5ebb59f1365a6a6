"""What is typed into the forms of a day's plan: what is asked of it, and its rounds one by one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from loosehand.click.sound import TIMBRES
from loosehand.errors import InputError
from loosehand.rounds.day_known import PlanAsked
from loosehand.rounds.workout import Hand, PlannedRound, RoundSetting
from loosehand.studio.chart import Kind
from loosehand.studio.plan_today import DayAsked, PlannedDay
from loosehand.studio.round_tags import (
    HANDS,
    LOUDNESSES,
    check_text,
    check_whole,
    check_word,
)

__all__ = [
    "ClickWords",
    "asked_of_words",
    "check_care",
    "click_of_setting",
    "rounds_of_text",
    "setting_of_words",
    "text_of_rounds",
    "words_of_asked",
    "words_of_kind",
]

Words = Mapping[str, str]

_HANDS_IN_ORDER: tuple[Hand, ...] = ("left", "right", "alternating")
_HANDS: dict[str, Hand] = {hand: hand for hand in _HANDS_IN_ORDER}
_MINUTES = "20"
_ROUND_S, _REST_S = "60", "60"
_LONGEST_WORD = 60
_MOST_COUNTS = 16
_MOST_PLACES = 12
_FOUR_PLACES = 4
_LONGEST_TEXT = 20_000
_WARM_UP, _TEST = "warm-up", "test"
_SLOW_BPM = 60.0
_EXAMPLE = "want a hand, a tempo and seconds, such as: left 96 60"


@dataclass(frozen=True)
class ClickWords:
    """How the click of a player's last workout was, and the grip; offered for the next.

    Attributes
    ----------
    timbre, level_db, count_in_counts, counts_per_bar, accent, silent_bars, grip : as in a
        ``RoundSetting``
    """

    timbre: str = TIMBRES[0]
    level_db: float = -3.0
    count_in_counts: int = 4
    counts_per_bar: int = 4
    accent: bool = False
    silent_bars: bool = False
    grip: str | None = None


def click_of_setting(setting: RoundSetting | None) -> ClickWords:
    """Words of the last workout's click; the usual ones where there was none."""
    if setting is None:
        return ClickWords()
    return ClickWords(**{name: getattr(setting, name) for name in ClickWords.__dataclass_fields__})


def asked_of_words(words: Words, *, hands: Sequence[str], count_in_counts: int) -> DayAsked:
    """Read what is asked of a day's plan.

    Parameters
    ----------
    words : of a form or an address, by name; what is not among them is as usual
    hands : that are ticked; all for none
    count_in_counts : clicks before a round, for its length

    Raises
    ------
    InputError   naming the first word that cannot be
    """
    minutes = words.get("minutes", _MINUTES).strip()
    chosen = [check_word(hand, field="hand", words=HANDS) for hand in hands] or list(HANDS)
    plan = PlanAsked(
        minutes=_number(minutes, field="minutes") if minutes else None,
        round_s=_number(words.get("round_s", _ROUND_S), field="round_s"),
        rest_s=_number(words.get("rest_s", _REST_S), field="rest_s"),
        count_in_counts=count_in_counts,
        hands=tuple(hand for hand in _HANDS_IN_ORDER if hand in chosen),
        full_ladder=words.get("full") == "yes",
        warm_already=words.get("warm") == "already",
        play_out=words.get("play_out") == "yes",
        light_anyway=words.get("light") == "yes",
    )
    weak = words.get("weak", "")
    if weak:
        check_word(weak, field="weak", words=("left", "right"))
    return DayAsked(plan, _kind(words), None if not weak else "left" if weak == "left" else "right")


def words_of_asked(asked: DayAsked, *, kind: Kind) -> list[tuple[str, str]]:
    """Write what is asked as the words of a form, with what is played; the way back.

    Parameters
    ----------
    asked : of the plan
    kind : that it is made for
    """
    plan = asked.plan
    ticks = {
        "full": plan.full_ladder and "yes",
        "warm": plan.warm_already and "already",
        "play_out": plan.play_out and "yes",
        "light": plan.light_anyway and "yes",
        "weak": asked.weak,
    }
    return [
        ("minutes", "" if plan.minutes is None else f"{plan.minutes:g}"),
        ("round_s", f"{plan.round_s:g}"),
        ("rest_s", f"{plan.rest_s:g}"),
        *(("hand", hand) for hand in plan.hands),
        *((name, word) for name, word in ticks.items() if word),
        *words_of_kind(kind),
    ]


def words_of_kind(kind: Kind) -> list[tuple[str, str]]:
    """Write what is played as the words of a form."""
    return [
        ("technique", kind.technique or ""),
        ("surface", kind.surface or ""),
        ("loudness", kind.loudness or ""),
        ("per_count", str(kind.places_per_count)),
    ]


def setting_of_words(words: Words, asked: DayAsked, *, kind: Kind, rest_s: float) -> RoundSetting:
    """Read what the rounds of a workout share.

    Parameters
    ----------
    words : of the form
    asked : of the plan, as read from the same form
    kind : what is played
    rest_s : as planned

    Raises
    ------
    InputError   naming the first word that cannot be
    """
    return RoundSetting(
        round_s=asked.plan.round_s,
        rest_s=rest_s,
        count_in_counts=_counts(words, "count_in_counts"),
        counts_per_bar=_counts(words, "counts_per_bar"),
        accent=words.get("accent") == "yes",
        silent_bars=words.get("silent_bars") == "yes",
        timbre=check_word(words.get("timbre", ""), field="timbre", words=TIMBRES),
        level_db=_number(words.get("level_db", ""), field="level_db"),
        play_out=asked.plan.play_out,
        technique=kind.technique,
        surface=kind.surface,
        loudness=kind.loudness,
        grip=_own(words, "grip"),
    )


def text_of_rounds(rounds: Sequence[PlannedRound]) -> str:
    """Write rounds as they may be changed: one a line, hand, tempo and seconds.

    Examples
    --------
    >>> text_of_rounds([PlannedRound("round", "left", 96.0, 4, 60.0, "test")])
    'test left 96 60'
    """
    return "\n".join(_line(each) for each in rounds)


def rounds_of_text(text: str, *, places_per_count: int, round_s: float) -> tuple[PlannedRound, ...]:
    """Read rounds that were typed, one a line; empty lines are none.

    Parameters
    ----------
    text : each line has a hand, a tempo and, where it is not the usual, the seconds; before them
        'warm-up' or 'test' where it is one. A warm-up without a hand is alternating
    places_per_count : of all of them
    round_s : usual length

    Raises
    ------
    InputError   naming the first line that is no round

    Examples
    --------
    >>> rounds_of_text("Left 96", places_per_count=4, round_s=60.0)[0].counts
    96
    """
    if len(text) > _LONGEST_TEXT:
        raise InputError(f"rounds has {len(text)} characters; want at most {_LONGEST_TEXT}")
    lines = [(at, line) for at, line in enumerate(text.splitlines(), start=1) if line.strip()]
    if not lines:
        raise InputError(f"rounds is empty; {_EXAMPLE}")
    return tuple(
        _round(line, at=at, places_per_count=places_per_count, round_s=round_s)
        for at, line in lines
    )


def check_care(day: PlannedDay, rounds: Sequence[PlannedRound]) -> None:
    """Check that rounds that are about to be played do not harm a hand that hurt.

    Raises
    ------
    InputError   where a round hurt today or yesterday, and these are not light and slow
    """
    if day.day_kind != "pain":
        return
    for each in rounds:
        if each.hand != "alternating" or each.tempo_bpm > _SLOW_BPM:
            raise InputError(
                f"a round hurt today or yesterday, and {_line(each)!r} is not light: rest, or "
                f"alternate at {_SLOW_BPM:g} or slower"
            )


def _line(planned: PlannedRound) -> str:
    special = "" if planned.purpose == "round" else f"{planned.purpose} "
    return f"{special}{planned.hand} {planned.tempo_bpm:.10g} {planned.round_s:.10g}"


def _round(line: str, *, at: int, places_per_count: int, round_s: float) -> PlannedRound:
    """Read a line."""
    wrong = InputError(f"line {at} of the rounds, {line.strip()[:40]!r}, is none; {_EXAMPLE}")
    words = line.lower().replace(",", " ").split()
    special = words.pop(0) if words[:1] in ([_WARM_UP], [_TEST]) else None
    if special == _WARM_UP and words and words[0] not in _HANDS:
        words.insert(0, "alternating")
    if not 2 <= len(words) <= 3 or words[0] not in _HANDS:
        raise wrong
    try:
        figures = [_number(word, field="rounds") for word in words[1:]]
    except InputError as error:
        raise wrong from error
    tempo_bpm, length_s = figures if len(figures) == 2 else (figures[0], round_s)
    return PlannedRound(
        "warm-up" if special == _WARM_UP else "round",
        _HANDS[words[0]],
        tempo_bpm,
        places_per_count,
        length_s,
        "test" if special == _TEST else "round",
    )


def _kind(words: Words) -> Kind | None:
    """What is to be played, None where no word says anything of it."""
    if not {"technique", "surface", "loudness", "per_count"} & set(words):
        return None
    loudness = words.get("loudness", "")
    places = words.get("per_count", "") or str(_FOUR_PLACES)
    return Kind(
        _own(words, "technique"),
        _own(words, "surface"),
        check_word(loudness, field="loudness", words=LOUDNESSES) if loudness else None,
        check_whole(places, field="per_count", lowest=1, highest=_MOST_PLACES),
    )


def _number(text: str, *, field: str) -> float:
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError as error:
        raise InputError(f"{field} = {text[:40]!r} is not a number") from error
    if not abs(value) < 1e6:
        raise InputError(f"{field} = {text[:40]!r} cannot be")
    return value


def _counts(words: Words, name: str) -> int:
    return check_whole(words.get(name, ""), field=name, lowest=1, highest=_MOST_COUNTS)


def _own(words: Words, name: str) -> str | None:
    text = words.get(name, "").strip()
    return check_text(text, field=name, longest=_LONGEST_WORD) if text else None
