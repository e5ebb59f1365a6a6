"""What was played: sound or MIDI in, strokes and their counts out."""

from loosehand.hear.engine import Engine
from loosehand.hear.heard import (
    Background,
    CountGrid,
    Hand,
    Heard,
    ListenRequest,
    Quality,
    Strokes,
)
from loosehand.hear.listen import listen
from loosehand.hear.listen_midi import listen_midi
from loosehand.hear.live import LiveEar, LiveHearing

__all__ = [
    "Background",
    "CountGrid",
    "Engine",
    "Hand",
    "Heard",
    "ListenRequest",
    "LiveEar",
    "LiveHearing",
    "Quality",
    "Strokes",
    "listen",
    "listen_midi",
]
