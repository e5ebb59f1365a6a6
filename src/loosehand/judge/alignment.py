"""Strokes matched to places, in order."""
