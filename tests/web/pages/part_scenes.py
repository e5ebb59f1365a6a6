"""Parts for the tests of their pages."""

from loosehand.studio.part_examples import EXAMPLE_TUNE
from loosehand.studio.parts_store import add_part
from tests.web.conftest import NOW

TINY = "title: Tiny\ntempo: 90\nmeter: 2/4\ngrid: 2\n[a] x2\nRH hat   X. x.\nRF kick  x. ..\n"


def kept_part(studio, text=EXAMPLE_TUNE, player=None):
    """Keep a part and return its number."""
    return add_part(studio, text, player=player, now=NOW)


def of_many_sections(sections, bars):
    """Return the text of a part with so many sections of so many bars, all different."""
    lines = ["tempo: 100", "meter: 2/4", "grid: 1"]
    for number in range(sections):
        lines.append(f"[part {number + 1}]")
        lines.append("RF kick " + " | ".join(["x ."] * bars))
    return "\n".join(lines) + "\n"
