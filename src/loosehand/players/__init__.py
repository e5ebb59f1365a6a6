"""Simulated players and their sound, for the demo, the tests and the bench."""

from loosehand.players.codec import encode
from loosehand.players.drums import DRUM_KINDS, WORK_RATE_HZ, DrumVoice, draw_drum
from loosehand.players.part_sound import PartSound, SoundPlan, sound_of_part, wav_bytes
from loosehand.players.people import PlayerTraits, draw_player
from loosehand.players.performance import FAILURES, Failure, Performance
from loosehand.players.play import TakePlan, nobody, play
from loosehand.players.recipe import TIERS, Recipe, draw_recipe
from loosehand.players.sound import render
from loosehand.players.takes import TAKE_TIERS, UNJUDGEABLE, Take, draw_plan, make_take

__all__ = [
    "DRUM_KINDS",
    "FAILURES",
    "TAKE_TIERS",
    "TIERS",
    "UNJUDGEABLE",
    "WORK_RATE_HZ",
    "DrumVoice",
    "Failure",
    "PartSound",
    "Performance",
    "PlayerTraits",
    "Recipe",
    "SoundPlan",
    "Take",
    "TakePlan",
    "draw_drum",
    "draw_plan",
    "draw_player",
    "draw_recipe",
    "encode",
    "make_take",
    "nobody",
    "play",
    "render",
    "sound_of_part",
    "wav_bytes",
]
