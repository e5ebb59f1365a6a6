"""The printed chart: one page of the size asked for, with what stands on it as text."""

import io
import shutil
import subprocess
from dataclasses import replace
from datetime import date

import pytest
from pypdf import PdfReader

from loosehand.errors import InputError
from loosehand.sheets import ChartPaper, PaperMark, chart_paper_pdf
from loosehand.sheets.chart_paper import MOST_TEMPOS

BLANK = ChartPaper(
    player="Nerys",
    month=date(2026, 11, 1),
    hand="left",
    technique="whip fours",
    surface="pad",
    loudness="medium",
    places_per_count=4,
    round_s=60.0,
    tempos_bpm=tuple(float(tempo) for tempo in range(60, 145, 5)),
    marks=(),
    care="Pain means stop.",
    size="a4",
)
FILLED = replace(
    BLANK,
    marks=(
        PaperMark(date(2026, 11, 2), 80.0, "80", held=True),
        PaperMark(date(2026, 11, 2), 120.0, "37*", held=False),
        PaperMark(date(2026, 11, 3), 120.0, "?", held=False),
    ),
)
POINTS = {"a4": (841.89, 595.28), "letter": (792.0, 612.0)}


def page_of(paper):
    """Return the only page."""
    (page,) = PdfReader(io.BytesIO(chart_paper_pdf(paper))).pages
    return page


def words_of(paper):
    """Return all words of the page."""
    return page_of(paper).extract_text().split()


@pytest.mark.parametrize("size", POINTS)
@pytest.mark.parametrize("paper", [BLANK, FILLED], ids=["blank", "filled"])
def test_a_month_is_one_page_on_its_long_side(paper, size):
    """A4 and Letter, blank or filled: one page, of that size to the point."""
    box = page_of(replace(paper, size=size)).mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(POINTS[size], abs=0.01)


def test_the_sheet_says_whose_and_what_it_is():
    """Name, month, tags, care, every day and every tempo stand on it."""
    text = " ".join(words_of(BLANK))
    for said in ("Nerys", "November 2026", "left", "whip fours", "pad", "medium", "60 s"):
        assert said in text
    assert "Pain means stop." in text
    assert {str(day) for day in range(1, 31)} <= set(words_of(BLANK))
    assert {str(tempo) for tempo in range(60, 145, 5)} <= set(words_of(BLANK))


def test_a_filled_sheet_carries_the_numbers_and_a_blank_one_none():
    """The numbers are text on the one, and missing from the other."""
    assert {"37*", "?"} <= set(words_of(FILLED))
    assert words_of(FILLED).count("80") == words_of(BLANK).count("80") + 1
    assert "37*" not in words_of(BLANK)


def test_tags_that_are_not_said_are_left_to_the_pencil():
    """A label without a word stays on the sheet."""
    words = words_of(replace(BLANK, technique=None, surface=None, loudness=None))
    assert {"Technique", "Surface", "Loudness"} <= set(words)
    assert "None" not in words


def test_words_of_people_are_not_commands():
    """What would be markup to the typesetter is printed as it was typed."""
    text = " ".join(words_of(replace(BLANK, player="#panic() $x$ *bold* @you")))
    assert "#panic() $x$ *bold* @you" in text


@pytest.mark.parametrize("month", [date(2027, 2, 1), date(2027, 1, 31)])
def test_the_days_are_those_of_the_month(month):
    """A month of 28 days has 28, one of 31 has 31, and any day of it will do."""
    words = words_of(replace(BLANK, month=month, tempos_bpm=(200.0,)))
    days = 28 if month.month == 2 else 31
    assert {str(day) for day in range(1, days + 1)} <= set(words)
    assert str(days + 1) not in words


def test_the_longest_words_and_most_tempos_still_make_one_page():
    """Names of 80 letters, tags of 60, a full ladder and a crowded cell do not spill over."""
    many = tuple(PaperMark(date(2026, 11, 5), 70.0, "40/52", held=True) for _ in range(8))
    paper = replace(
        BLANK,
        player="M" * 80,
        technique="slow " * 12,
        surface="w" * 60,
        tempos_bpm=tuple(60.0 + row for row in range(MOST_TEMPOS)),
        marks=many,
    )
    words = words_of(paper)
    assert words.count("40/52") == 2
    assert "+6" in words


def test_letters_beyond_the_fonts_that_are_carried_still_make_a_page():
    """A name in other letters is asked of the machine's fonts, and never stops the sheet."""
    assert page_of(replace(BLANK, player="太鼓"))


def test_what_does_not_fit_is_refused():
    """An unknown size and too many tempos are said in one sentence."""
    with pytest.raises(InputError, match="size = 'a3' is not known; want one of: a4, letter"):
        chart_paper_pdf(replace(BLANK, size="a3"))
    with pytest.raises(InputError, match="31 tempos; want 1 to 30 on a page"):
        chart_paper_pdf(replace(BLANK, tempos_bpm=tuple(60.0 + n for n in range(31))))
    with pytest.raises(InputError, match="0 tempos"):
        chart_paper_pdf(replace(BLANK, tempos_bpm=()))


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no pdftoppm to render with")
def test_the_ink_is_black(tmp_path):
    """Rendered without smoothing, every pixel is black or white: nothing leans on grey."""
    (tmp_path / "sheet.pdf").write_bytes(chart_paper_pdf(FILLED))
    command = "pdftoppm -r 60 -aa no -aaVector no -singlefile sheet.pdf sheet"
    subprocess.run(command.split(), cwd=tmp_path, check=True)
    image = (tmp_path / "sheet.ppm").read_bytes()
    pixels = image.split(b"\n", 3)[3]
    assert set(pixels) == {0, 255}
    assert 0.02 < pixels.count(0) / len(pixels) < 0.5
