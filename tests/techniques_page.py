"""Write ``docs/techniques.md`` from ``techniques.toml``.

``python -m tests.techniques_page`` writes it; a test fails when the page is not current.
"""

from pathlib import Path

from loosehand.parts.techniques import TECHNIQUES, read_techniques

ROOT = Path(__file__).resolve().parent.parent
DATA = ROOT / "src" / "loosehand" / "parts" / "techniques.toml"
PAGE = ROOT / "docs" / "techniques.md"
HEAD = """# Techniques of one hand

Written from `src/loosehand/parts/techniques.toml` by `python -m tests.techniques_page`; a test
fails when this page is not current. A technique is how the strokes of a hand are made; a drive is
the one motion that pays for a group of strokes. All of it is knowledge of the trade, put into
figures so that [the demand of a part](demand.md) can be told for each technique. Each entry names
its source, and where none is known it says so: a teacher who knows better hands in a file of the
same shape, and the code asks that file for nothing it does not hold.

Stroke kinds: a **full** stroke starts high and ends high, a **down** stroke starts high and ends
low, a **tap** starts low and ends low, an **up** stroke starts low and ends high. In push-pull the
wrist makes the **push**, the fingers the **pull**. Taps, up strokes and pulls have no drive of
their own: they are the weak strokes.

The tempo range is rough, and counted in sixteenths of one hand, four strokes a count. A technique
that hurts is the wrong one, or at the wrong tempo: stop, and play something else.

| technique | strokes a drive | cycle | free accents | leans on | tempo | surfaces | source |
| --- | --- | --- | --- | --- | --- | --- | --- |
"""


def strokes(phases):
    """Return phases of a cycle as a player counts them."""
    return ", ".join(f"stroke {phase + 1}" for phase in phases) or "none"


def row(technique):
    """Return one line of the table."""
    low, high = technique.tempo_range_bpm
    cells = (
        technique.name,
        technique.strokes_per_drive,
        ", ".join(technique.cycle),
        strokes(technique.accents),
        strokes(technique.leans_on),
        f"{low} to {high}",
        ", ".join(technique.surfaces),
        technique.source,
    )
    return "| " + " | ".join(map(str, cells)) + " |"


def chapter(technique):
    """Return what is said of one technique."""
    return f"""
## {technique.name.capitalize()}

- Gives: {technique.gives}
- Costs: {technique.costs}
- The first fault: {technique.first_fault}
- The cure: {technique.cure}
- To develop it: {technique.develop}
- Source: {technique.source}
"""


def page_text():
    """Return the page as it ought to be."""
    faults = read_techniques(DATA.read_text("utf-8")).faults.values()
    rows = "\n".join(map(row, TECHNIQUES.values()))
    chapters = "".join(map(chapter, TECHNIQUES.values()))
    cures = "\n".join(
        f"| {fault.key} | {fault.what} | {fault.cure} | {fault.source} |" for fault in faults
    )
    return (
        f"{HEAD}{rows}\n{chapters}\n## What is heard to go wrong\n\n"
        f"| fault | what it is | what to try | source |\n| --- | --- | --- | --- |\n{cures}\n"
    )


if __name__ == "__main__":
    PAGE.write_text(page_text(), "utf-8")
