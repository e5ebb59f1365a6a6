"""What is played against: counts as times, and their sound."""

from loosehand.click.sound import TIMBRES, Timbre, click_waveform, render_clicks
from loosehand.click.track import Click, ClickPlan, ClickRole, click_track, round_clicks

__all__ = [
    "TIMBRES",
    "Click",
    "ClickPlan",
    "ClickRole",
    "Timbre",
    "click_track",
    "click_waveform",
    "render_clicks",
    "round_clicks",
]
