"""Printed pages: values in, PDF out."""

from loosehand.sheets.chart_paper import ChartPaper, PaperMark, chart_paper_pdf

__all__ = ["ChartPaper", "PaperMark", "chart_paper_pdf"]
