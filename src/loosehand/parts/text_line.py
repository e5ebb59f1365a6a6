"""One line of a part's text, and how a refusal says where it stands."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from loosehand.errors import BadNotation

__all__ = ["Line"]

_Result = TypeVar("_Result")
_LONGEST_WORD = 20


@dataclass(frozen=True)
class Line:
    """One line of a text.

    Attributes
    ----------
    number : from 1
    text : what stands in it
    """

    number: int
    text: str

    @property
    def first_column(self) -> int:
        """Column of the first sign, from 1."""
        return len(self.text) - len(self.text.lstrip()) + 1

    def word(self) -> str:
        """Return the first word, cut to what fits into a sentence."""
        word = (self.text.split(maxsplit=1) or [""])[0]
        return word if len(word) <= _LONGEST_WORD else word[:_LONGEST_WORD] + "..."

    def fault(self, column: int, what: str) -> BadNotation:
        """Error that says where and what.

        Examples
        --------
        >>> str(Line(3, "RH gong").fault(4, "'gong' is no instrument"))
        "line 3, column 4: 'gong' is no instrument"
        """
        return BadNotation(f"line {self.number}, column {column}: {what}")

    def told(self, column: int, act: Callable[[], _Result]) -> _Result:
        """Do something that may refuse, and add where it was.

        Raises
        ------
        BadNotation    as ``act`` does, with line and column before its words
        """
        try:
            return act()
        except BadNotation as error:
            raise self.fault(column, str(error)) from error
