"""Where a refusal stands."""

import pytest

from loosehand.errors import BadNotation
from loosehand.parts.text_line import Line


def test_a_fault_says_line_and_column():
    """The sentence begins with both."""
    assert str(Line(7, "x").fault(3, "no")) == "line 7, column 3: no"


def test_the_first_column_skips_spaces():
    """Columns count from 1."""
    assert Line(1, "  RH").first_column == 3
    assert Line(1, "RH").first_column == 1


def test_words_are_cut_to_fit_a_sentence():
    """A word of a thousand letters is named by its beginning."""
    assert Line(1, "x" * 1000).word() == "x" * 20 + "..."
    assert Line(1, "").word() == ""


def test_refusals_from_below_are_told_where():
    """What another function refuses gets line and column; what it returns passes."""

    def refuse():
        raise BadNotation("no such tempo")

    assert Line(2, "").told(1, lambda: 5) == 5
    with pytest.raises(BadNotation, match=r"^line 2, column 9: no such tempo$"):
        Line(2, "").told(9, refuse)
