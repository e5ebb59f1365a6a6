"""MIDI takes made for the tests with another writer."""

import mido


def write_midi(path, stroke_s, *, tempo_bpm=100.0, velocity=80):
    """Write strokes as notes of a drum channel, to a tick of a fraction of a millisecond."""
    file = mido.MidiFile(ticks_per_beat=960)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo_bpm), time=0))
    tick = [round(float(at_s) * tempo_bpm / 60.0 * 960) for at_s in stroke_s]
    for before, at in zip([0, *tick], tick, strict=False):
        track.append(
            mido.Message("note_on", channel=9, note=38, velocity=velocity, time=at - before)
        )
    file.save(str(path))
    return path
