"""What is believed of a hand before anything was heard of it: stated, and open to be changed.

All tempos are of sixteenths in one hand. The figures are common practice, no source, but for two
anchors: one-handed rates of 5 to 7 strokes a second are the usual limit of people, 10 a second a
contest's (Fujii, Kudo, Ohtsuki and Oda 2009, Neuroscience Letters 459:69-73, abstract).
"""

import math
from dataclasses import dataclass

from loosehand.reach.laws import Law

__all__ = ["LAPSE_SHARE", "NOBODY_KNOWN", "Prior", "log_steepness"]

LAPSE_SHARE = 0.02
"""Share of rounds that end for no reason of reach, anywhere in the round. Ours."""


@dataclass(frozen=True)
class Prior:
    """Means and spreads, each of a normal law; 'log' is the natural logarithm.

    Attributes
    ----------
    minute_bpm, minute_sd_bpm : tempo held for a minute on the last day
    log_drop, log_drop_sd : tempo held 10 s over the tempo held 60 s, in bpm
    log_top_s, log_top_sd : time constant of the top rate law, seconds
    gain_sd_bpm : gain in a month of 30 days, about none
    slope_step_sd_bpm : spread of the daily step of the gain a day
    log_form_bpm, log_form_sd : spread of the day's form
    log_tempo_noise_bpm, log_tempo_noise_sd : spread from round to round, as a tempo
    log_time_noise, log_time_noise_sd : spread from round to round of the log of hold time
    """

    minute_bpm: float = 88.0
    minute_sd_bpm: float = 14.0
    log_drop: float = math.log(7.0)
    log_drop_sd: float = 0.5
    log_top_s: float = math.log(2.0)
    log_top_sd: float = 1.0
    gain_sd_bpm: float = 2.5
    slope_step_sd_bpm: float = 0.004
    log_form_bpm: float = math.log(1.6)
    log_form_sd: float = 0.6
    log_tempo_noise_bpm: float = math.log(0.9)
    log_tempo_noise_sd: float = 0.6
    log_time_noise: float = math.log(0.2)
    log_time_noise_sd: float = 0.6


NOBODY_KNOWN = Prior()


def log_steepness(law: Law, prior: Prior) -> float:
    """Mean of the log of the steepness (bpm) that goes with the drop of the prior.

    Examples
    --------
    >>> round(math.exp(log_steepness("hyperbolic", NOBODY_KNOWN)), 2)
    1.4
    """
    if law == "log-linear":
        return prior.log_drop - math.log(math.log(6.0))
    top_s = math.exp(prior.log_top_s) if law == "top rate" else 0.0
    return prior.log_drop - math.log((60.0 + top_s) / (10.0 + top_s) - 1.0)
