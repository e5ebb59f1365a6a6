"""A part of twelve bars, and takes of it whose accents are known, as MIDI and as a phone hears."""

from dataclasses import replace

import mido
import numpy as np

from loosehand.players.codec import encode
from loosehand.players.people import draw_player
from loosehand.players.play import TakePlan, play
from loosehand.players.recipe import draw_recipe
from loosehand.players.sound import render

HEAD = "title: Slow train\ntempo: 100\nmeter: 4/4\ngrid: 4\n"
LINES = "RH hat Xxxx xxXx xxxx Xxxx | Xxxx xxxx xxxx xxxX\nLH snare .... x... .... x... | %\n"
TEXT = f"{HEAD}[verse] x6\n{LINES}"
PLACES = 192
ACCENTS = tuple(bar + each for bar in range(0, PLACES, 32) for each in (0, 6, 12, 16, 31))


def write_accents(path, accents, *, places=PLACES, tempo_bpm=100, loud=110, soft=60):
    """Write a MIDI take of sixteenths with accents at some places."""
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("set_tempo", tempo=round(60_000_000 / tempo_bpm), time=0))
    for place in range(places):
        velocity = loud if place in accents else soft
        track.append(mido.Message("note_on", note=42, velocity=velocity, time=60 if place else 0))
        track.append(mido.Message("note_off", note=42, velocity=0, time=60))
    track.append(mido.MetaMessage("end_of_track", time=60))
    mido.MidiFile(ticks_per_beat=480, tracks=[track]).save(path)
    return path


def write_recording(path, accents, *, tempo_bpm, seed, counts=PLACES // 4 + 6):
    """Write what a phone recorded in a room, the click in it: AAC, accents 9 dB above the rest."""
    rng = np.random.default_rng(seed)
    plan = TakePlan(tempo_bpm, 4, "right", counts, None, None, 0, 4, 4, 1, 1.0, 20.0)
    done = play(replace(draw_player(rng), technique="singles"), plan, rng)
    level_db = done.level_db + np.where(np.isin(done.stroke_place, list(accents)), 0.0, -9.0)
    recipe = draw_recipe("home_phone", rng)
    samples, rate = render(replace(done, level_db=level_db), recipe, rng)
    path.write_bytes(encode(samples, rate, suffix=".m4a", bit_rate=96_000))
    return path
