"""What goes onto paper, onto a staff, and to other programs: values in, files out."""

from loosehand.sheets.chart_paper import ChartPaper, PaperMark, chart_paper_pdf
from loosehand.sheets.part_engraving import StaffWords, part_to_svg
from loosehand.sheets.part_midi import part_from_midi, part_to_midi
from loosehand.sheets.part_musicxml import part_from_musicxml, part_to_musicxml

__all__ = [
    "ChartPaper",
    "PaperMark",
    "StaffWords",
    "chart_paper_pdf",
    "part_from_midi",
    "part_from_musicxml",
    "part_to_midi",
    "part_to_musicxml",
    "part_to_svg",
]
