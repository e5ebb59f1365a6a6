"""The chart as CSV."""

import contextlib
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loosehand.errors import BadTable
from loosehand.studio.chart_csv import (
    COLUMNS,
    ChartRow,
    decode_chart_csv,
    read_chart_csv,
    write_chart_csv,
)
from loosehand.studio.round_tags import (
    ENDED,
    FEELS,
    HANDS,
    LOUDNESSES,
    NOT_JUDGED,
    RoundTags,
    check_text,
    counts_of_round,
)

HEADER = (
    "date,order,player,hand,technique,surface,loudness,tempo_bpm,places_per_count,"
    "round_s,count_held,ended,feel"
)
LINE = "2027-03-01,1,Ines,left,whip fours,pad,medium,104,4,60,41,lost the click,tense"


def _line(**changed: str) -> str:
    """A good line with some cells changed."""
    cells = dict(zip(COLUMNS, LINE.split(","), strict=True)) | changed
    return HEADER + "\n" + ",".join(cells.values()) + "\n"


def _short_line(text: str) -> bool:
    """Whether a text is one that a name may be, as it is kept."""
    try:
        return check_text(text, field="text", longest=60) == text
    except ValueError:
        return False


names = st.text(min_size=1, max_size=60).filter(_short_line)


@st.composite
def chart_rows(draw):
    """Draw a chart: rounds of any kind that can be written."""
    unknown = draw(
        st.lists(names.filter(lambda name: name not in COLUMNS), unique=True, max_size=3)
    )
    count = draw(st.integers(0, 8))
    return [_draw_row(draw, order, unknown) for order in range(1, count + 1)]


def _draw_row(draw, order, unknown):
    tempo_bpm = draw(st.one_of(st.integers(60, 140).map(float), st.floats(20, 400)))
    round_s = draw(st.one_of(st.just(60.0), st.floats(3.5, 14400)))
    counts = counts_of_round(tempo_bpm=tempo_bpm, round_s=round_s)
    ended = draw(st.one_of(st.none(), st.sampled_from(ENDED)))
    cells = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20)
    return ChartRow(
        day=draw(st.dates()),
        order=draw(st.one_of(st.none(), st.just(order))),
        player=draw(names),
        tags=RoundTags(
            hand=draw(st.sampled_from(HANDS)),
            tempo_bpm=tempo_bpm,
            places_per_count=draw(st.integers(1, 12)),
            round_s=round_s,
            technique=draw(st.one_of(st.none(), names)),
            surface=draw(st.one_of(st.none(), names)),
            loudness=draw(st.one_of(st.none(), st.sampled_from(LOUDNESSES))),
            feel=draw(st.one_of(st.none(), st.sampled_from(FEELS))),
        ),
        count_held=None if ended == NOT_JUDGED else draw(st.integers(0, counts)),
        ended=ended,
        extra={name: draw(cells) for name in unknown if draw(st.booleans())},
    )


@settings(max_examples=40, deadline=None)
@given(chart_rows())
def test_a_chart_written_and_read_is_the_same(rows):
    """Writing and reading loses nothing, unknown columns included."""
    assert read_chart_csv(decode_chart_csv(write_chart_csv(rows).encode())) == rows


@settings(max_examples=40, deadline=None)
@given(chart_rows())
def test_a_chart_read_and_written_is_the_same(rows):
    """What was written once is written the same again."""
    text = write_chart_csv(rows)
    assert write_chart_csv(read_chart_csv(text)) == text


@settings(max_examples=150, deadline=None)
@given(st.one_of(st.binary(max_size=400), st.text(max_size=400).map(lambda text: text.encode())))
def test_any_bytes_are_read_or_refused(data):
    """The reader never fails in a way that is not ours."""
    with contextlib.suppress(BadTable):
        read_chart_csv(decode_chart_csv(data))


_cells = st.one_of(
    st.sampled_from([*LINE.split(","), "", "0", "-1", "1e999", "nan", '"', "\x00", "9" * 30, "½"]),
    st.text(max_size=12),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.lists(_cells, min_size=12, max_size=14), max_size=4))
def test_any_cells_under_a_good_header_are_read_or_refused(lines):
    """Wild cells below a good header are read or refused in one sentence."""
    text = "\n".join([HEADER, *(",".join(cells) for cells in lines)])
    with contextlib.suppress(BadTable):
        read_chart_csv(text)


def test_a_line_is_read_as_it_says():
    """Every column goes where it belongs."""
    (row,) = read_chart_csv(HEADER + "\n" + LINE)
    assert row == ChartRow(
        day=date(2027, 3, 1),
        order=1,
        player="Ines",
        tags=RoundTags(
            hand="left",
            tempo_bpm=104.0,
            places_per_count=4,
            round_s=60.0,
            technique="whip fours",
            surface="pad",
            loudness="medium",
            feel="tense",
        ),
        count_held=41,
        ended="lost the click",
        extra={},
    )


def test_the_format_is_version_1():
    """The header and a line are written exactly as the format says."""
    written = write_chart_csv(read_chart_csv(HEADER + "\n" + LINE))
    assert written == HEADER + "\r\n" + LINE + "\r\n"


def test_optional_columns_may_be_missing():
    """Only six columns are needed; a round is a minute where its length is not said."""
    text = "date,player,hand,tempo_bpm,places_per_count,count_held\n2027-03-01,Ines,right,60,4,60\n"
    (row,) = read_chart_csv(text)
    assert row.order is None
    assert row.ended is None
    assert row.tags.round_s == 60.0
    assert row.tags.technique is row.tags.surface is row.tags.loudness is row.tags.feel is None


def test_columns_may_come_in_any_order_with_a_byte_order_mark():
    """A spreadsheet's order and its mark at the start do not matter."""
    data = (
        b"\xef\xbb\xbfcount_held,player,note,hand,tempo_bpm,places_per_count,date\r\n"
        b"60,Ines,with the lamp on,right,60,4,2027-03-01\r\n\r\n"
    )
    (row,) = read_chart_csv(decode_chart_csv(data))
    assert row.extra == {"note": "with the lamp on"}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "lacks the columns date, player.*holds nothing"),
        ("a,b,c\n1,2,3\n", "lacks the columns date, player.*'a', 'b', 'c'"),
        (HEADER.replace("count_held", "counts"), "lacks the column count_held"),
        (HEADER.replace(",", ";"), "lacks the columns"),
        (HEADER + ",hand\n", "column 'hand' more than once"),
        (HEADER + "\n2027-03-01,1\n", "line 2 of the chart has 2 cells; want 13"),
        (HEADER + '\n"', "line 2 of the chart is not CSV"),
        (HEADER + "\n" + LINE + "\n" + LINE, "two rounds with order 1 on 2027-03-01"),
        (_line(date="1/3/2027"), "line 2.*date = '1/3/2027'"),
        (_line(order="0"), "line 2.*order = 0"),
        (_line(player=""), "line 2.*player is empty"),
        (_line(hand="both"), "line 2.*hand = 'both'.*left, right, alternating"),
        (_line(loudness="ff"), "line 2.*loudness"),
        (_line(tempo_bpm="0"), "line 2.*tempo_bpm = 0"),
        (_line(tempo_bpm="NaN"), "line 2.*tempo_bpm = nan"),
        (_line(places_per_count="4.5"), "line 2.*places_per_count"),
        (_line(round_s="a minute"), "line 2.*round_s"),
        (_line(count_held="105"), "line 2.*count_held = 105.*from 0 to 104"),
        (_line(count_held="-1"), "line 2.*count_held = -1"),
        (_line(count_held=""), "line 2.*count_held"),
        (_line(ended="fell apart"), "line 2.*ended = 'fell apart'"),
        (_line(ended="not judged"), "line 2.*although ended is 'not judged'"),
        (_line(feel="fine"), "line 2.*feel = 'fine'"),
    ],
)
def test_a_wrong_chart_is_refused_in_one_sentence(text, says):
    """A refusal names the line and the column."""
    with pytest.raises(BadTable, match=says) as caught:
        read_chart_csv(text)
    assert "\n" not in str(caught.value)


def test_a_chart_in_another_encoding_is_refused():
    """Text that is not UTF-8 is not guessed at."""
    with pytest.raises(BadTable, match="not UTF-8"):
        decode_chart_csv(_line(player="Inés").encode("latin-1"))


def test_a_chart_without_end_is_refused():
    """A file too large for a chart is refused before it is read."""
    with pytest.raises(BadTable, match="split it by year"):
        decode_chart_csv(b"x" * 64_000_001)
