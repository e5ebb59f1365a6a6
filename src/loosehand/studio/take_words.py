"""A reading in words for a page: figures with their units, each with what it says."""

from dataclasses import dataclass
from typing import Any, Literal

from loosehand.parts.place_words import PLACE_NAMES

__all__ = [
    "FigureInWords",
    "chance_in_words",
    "evenness_figures",
    "hand_in_words",
    "hand_place_names",
    "hold_figures",
    "leading_hand",
    "place_names",
    "recording_figures",
    "way_of_tiring",
]

Json = dict[str, Any]

_CHANCES = (
    # Lowest chance for each wording. Chosen, common practice, no source.
    (0.9, "very likely right"),
    (0.7, "probably right"),
    (0.5, "more likely right than not"),
    (0.0, "in doubt"),
)
_SOURCES = {
    "click": "found by the click in the recording",
    "told": "where they were told to be",
    "strokes": "found by the strokes alone, so early and late are relative only",
}
_ON_THE_CLICK_MS = 0.05
_TIRING = {
    ("spread", True): "less even",
    ("spread", False): "more even",
    ("level", True): "louder",
    ("level", False): "softer",
    ("drift", True): "later",
    ("drift", False): "earlier",
}


@dataclass(frozen=True)
class FigureInWords:
    """A figure as it is shown.

    Attributes
    ----------
    label : what it is
    value : the figure with its unit
    note : what it says, may be empty
    """

    label: str
    value: str
    note: str = ""


def hand_in_words(hand: str | None) -> str:
    """Say which hand.

    Examples
    --------
    >>> hand_in_words("left"), hand_in_words("alternating"), hand_in_words(None)
    ('left hand', 'hands alternating', 'hand not told')
    """
    if hand is None:
        return "hand not told"
    return "hands alternating" if hand == "alternating" else f"{hand} hand"


def place_names(places_per_count: int) -> tuple[str, ...]:
    """Names of the places of a count, as players say them."""
    numbers = tuple(str(place + 1) for place in range(places_per_count))
    return ("1", *PLACE_NAMES.get(places_per_count, numbers)[1:])


def leading_hand(body: Json) -> Literal["left", "right"] | None:
    """The hand of an alternating take that plays place 0; None where it cannot be told.

    Examples
    --------
    >>> stroke = {"hand": "left", "place": 1}
    >>> leading_hand({"hand": "alternating", "places_per_count": 4, "strokes": [stroke]})
    'right'
    """
    if body["hand"] != "alternating" or body["places_per_count"] % 2:
        return None
    for stroke in body["strokes"]:
        if stroke["place"] is not None and stroke["hand"] is not None:
            return "left" if (stroke["hand"] == "left") == (stroke["place"] % 2 == 0) else "right"
    return None


def hand_place_names(body: Json, hand: str) -> tuple[str, ...]:
    """Names of the places of a count that one hand of an alternating take has.

    Parameters
    ----------
    body : the reading as JSON
    hand : left or right

    Returns
    -------
    names : of every second place of the count, as players say them; numbers of the hand's own grid
        where it cannot be told which hand leads
    """
    places, leads = body["places_per_count"], leading_hand(body)
    if leads is None:
        return tuple(str(place + 1) for place in range(max(places // 2, 1)))
    return place_names(places)[0 if hand == leads else 1 :: 2]


def chance_in_words(chance: float) -> str:
    """Say a chance.

    Examples
    --------
    >>> chance_in_words(0.937)
    'very likely right (94 in 100)'
    """
    words = next(words for lowest, words in _CHANCES if round(chance, 2) >= lowest)
    return f"{words} ({round(100 * chance)} in 100)"


def way_of_tiring(tiring: Json) -> str:
    """Say in which way a hand left its early range.

    Examples
    --------
    >>> way_of_tiring({"sign": "level", "rising": False})
    'softer'
    """
    return _TIRING[(tiring["sign"], tiring["rising"])]


def _tiring_sentence(tiring: Json) -> str | None:
    """Say where the hand left its early range, None where it stayed or nothing can be said."""
    if tiring.get("onset_count") is None:
        return None
    way = way_of_tiring(tiring)
    return f"From count {tiring['onset_count']} on the hand gets {way} than it began."


def hold_figures(body: Json) -> list[FigureInWords]:
    """Figures of the hold, as the machine read them."""
    held, offered = body["count_held"], body["counts_offered"]
    if held is None:
        return [
            FigureInWords("Count held", "not judged", "the reason stands at the head of this page")
        ]
    of_all = "" if offered is None else f" of {offered}"
    figures = [FigureInWords("Count held", f"{held}{of_all}", body["ended"])]
    if body["confidence"] is not None:
        figures.append(FigureInWords("How sure", chance_in_words(body["confidence"])))
    if body["clean_counts"] is not None:
        note = "counts of the hold without a slip"
        figures.append(FigureInWords("Clean counts", f"{body['clean_counts']} of {held}", note))
    last = body["last_locked_count"]
    if last is not None:
        note = "the click was caught again after the break" if last > held else "not caught again"
        note = "" if held == offered else note
        figures.append(FigureInWords("Last good count", str(last), note))
    tired = _tiring_sentence(body["tiring"])
    if tired is not None:
        figures.append(FigureInWords("Tiring", f"count {body['tiring']['onset_count']}", tired))
    elif body["tiring"]:
        figures.append(FigureInWords("Tiring", "not seen", "the notes say more where it is open"))
    return figures


def evenness_figures(evenness: Json, *, relative_only: bool) -> list[FigureInWords]:
    """Figures of the evenness before the break.

    Parameters
    ----------
    evenness : of one stream, as in the reading
    relative_only : whether early and late are relative only
    """
    if "lead_ms" not in evenness:
        return []
    figures = [
        _lead(evenness["lead_ms"], relative_only=relative_only),
        _plain("Spread around the places", evenness["asynchrony_sd_ms"], "ms"),
        _plain(
            "Spread of the intervals",
            evenness["interval_sd_ms"],
            "ms",
            _share_of_a_place(evenness["interval_cv"]),
        ),
        _ranged("Drift", evenness["drift_ms_per_minute"], "ms a minute", "later is above nought"),
        _plain("Spread of the level", evenness["level_spread_db"], "dB", "profile and slope apart"),
        _ranged("Slope of the level", evenness["level_slope_db_per_minute"], "dB a minute"),
    ]
    split = evenness["split"]
    if split is not None:
        figures += [
            _ranged("Timekeeper part", split["timekeeper_ms"], "ms"),
            _ranged("Motor part", split["motor_ms"], "ms"),
            _ranged("Correction to the click", split["correction"], "", "share of each error"),
        ]
    return [figure for figure in figures if figure is not None]


def recording_figures(body: Json) -> list[FigureInWords]:
    """Figures of the recording, and where its counts were found."""
    quality = body["quality"]
    figures = []
    if body["grid_source"] is not None:
        is_midi = body["grid_source"] == "click" and quality.get("sample_rate_hz") is None
        note = "by the counts of the MIDI file" if is_midi else _SOURCES[body["grid_source"]]
        figures.append(FigureInWords("Count 1", f"at {body['first_count_s']:.2f} s", note))
    told = (
        _plain("Length", quality.get("duration_s"), "s"),
        _plain("Strokes", quality.get("stroke_level_db"), "dB", "against full scale"),
        _plain("Click", quality.get("click_level_db"), "dB", "as it is heard in the recording"),
        _plain("Quiet", quality.get("noise_floor_db"), "dB", "when nothing sounds"),
    )
    figures += [figure for figure in told if figure is not None]
    if quality.get("clipped_share"):
        share = f"{100 * quality['clipped_share']:.0f} %"
        figures.append(FigureInWords("Overloaded strokes", share, "record softer next time"))
    return figures


def _lead(lead_ms: float | None, *, relative_only: bool) -> FigureInWords | None:
    """Say how early or late the hand lies."""
    if lead_ms is None:
        return None
    if relative_only:
        return FigureInWords("Lead", "cannot be told", "there is no click to be early or late by")
    if abs(lead_ms) < _ON_THE_CLICK_MS:
        return FigureInWords("Lead", "on the click")
    way = "before the click" if lead_ms < 0 else "behind the click"
    return FigureInWords("Lead", f"{abs(lead_ms):.1f} ms {way}", "a steady lead is no error")


def _share_of_a_place(share: float | None) -> str:
    """Say a share of a place."""
    return "" if share is None else f"{100 * share:.1f} % of a place"


def _plain(label: str, value: float | None, unit: str, note: str = "") -> FigureInWords | None:
    """Figure without a range, None where there is none."""
    return None if value is None else FigureInWords(label, f"{_signed(value)} {unit}", note)


def _ranged(label: str, figure: Json, unit: str, note: str = "") -> FigureInWords | None:
    """Figure with the range that holds four chances in five."""
    told, low, high = figure["told"], figure["low80"], figure["high80"]
    if low is None or high is None:
        return None if told is None else FigureInWords(label, f"{_signed(told)} {unit}", note)
    span = f"{_signed(low)} to {_signed(high)}"
    after = f" {unit}" if unit else ""
    if told is None:
        note = f"{note}; cannot be told more closely" if note else "cannot be told more closely"
        return FigureInWords(label, f"{span}{after}", note)
    around = f"four chances in five: {span}"
    return FigureInWords(label, f"{_signed(told)}{after}", f"{around}; {note}" if note else around)


def _signed(value: float) -> str:
    """Number with a true minus; two decimals where it is small."""
    digits = 2 if abs(value) < 1 else 1
    return f"{value:.{digits}f}".replace("-", "\N{MINUS SIGN}")
