"""A MIDI take in, strokes and their grid out."""

from dataclasses import replace

import numpy as np

from loosehand.hear.find_grid import ClickEvidence, find_grid
from loosehand.hear.heard import Heard, ListenRequest, Quality, Strokes
from loosehand.hear.midi import midi_strokes, notes_assumed
from loosehand.hear.midi_file import MidiFile
from loosehand.hear.tempo import candidate_tempos, stroke_rate

__all__ = ["listen_midi"]

_SAME_TEMPO = 2e-3
_ON_GRID_PLACES = 0.2
_NO_TEMPO = "The tempo cannot be told from so few strokes; say it with --tempo."


def listen_midi(midi: MidiFile, request: ListenRequest, *, notes: frozenset[int] | None) -> Heard:
    """Take strokes and counts from a MIDI file.

    Parameters
    ----------
    midi : the file's events
    request : what is told; the tempo may be None
    notes : notes that count as strokes, or None for all

    Returns
    -------
    heard : the counts lie on the file's own beats where its tempo is the one told and the
        strokes keep to them, else where the strokes say

    Raises
    ------
    UnsupportedMidi, InputError    where there is no such note
    """
    strokes = midi_strokes(midi, notes=notes)
    assumed = notes_assumed(midi, notes=notes)
    file_tempo = midi.tempo_map.quarters_per_minute(0)
    file_bpm = None if file_tempo is None else float(file_tempo)
    tempo_bpm = request.tempo_bpm
    if tempo_bpm is None:
        tempo_bpm = _tempo(strokes, request, file_bpm)
    if tempo_bpm is None:
        return Heard(strokes, None, _quality(midi, assumed, _NO_TEMPO), None)
    told = replace(request, tempo_bpm=tempo_bpm)
    click = _own_beats(strokes, told, file_bpm)
    end_s = max(midi.duration_s, float(strokes.time_s[-1]) + 60.0 / tempo_bpm)
    grid = find_grid(strokes.time_s, click, told, duration_s=end_s)
    return Heard(strokes, grid, _quality(midi, assumed, None), None)


def _quality(midi: MidiFile, assumed: tuple[str, ...], refusal: str | None) -> Quality:
    return Quality(midi.duration_s, None, None, None, None, 0.0, midi.remarks, assumed, refusal)


def _tempo(strokes: Strokes, request: ListenRequest, file_bpm: float | None) -> float | None:
    """Tempo by the rate of the strokes; the file's own where it agrees."""
    rate = stroke_rate(strokes.time_s)
    if rate is None:
        return file_bpm
    measured = 60.0 / (rate.place_s * request.places_per_count)
    if file_bpm is not None and abs(file_bpm / measured - 1) < 0.02:
        return file_bpm
    return float(candidate_tempos(measured)[0])


def _own_beats(
    strokes: Strokes, request: ListenRequest, file_bpm: float | None
) -> ClickEvidence | None:
    """The beats of the file as a click, where the strokes keep to them."""
    tempo_bpm = request.tempo_bpm
    if file_bpm is None or tempo_bpm is None or abs(file_bpm / tempo_bpm - 1) > _SAME_TEMPO:
        return None
    period_s = 60.0 / file_bpm
    place_s = period_s / request.places_per_count
    early = strokes.time_s[: 4 * request.places_per_count]
    off = float(np.angle(np.mean(np.exp(2j * np.pi * early / place_s)))) / (2 * np.pi)
    if abs(off) > _ON_GRID_PLACES:
        return None
    return ClickEvidence(phase_s=0.0, period_s=period_s, first_number=None, last_number=None)
