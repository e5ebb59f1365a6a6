"""The posterior of a small chart by plain Metropolis chains: the model of the reach, written anew.

Nothing of the fit is used here but the figures of the prior. Chains step by the difference of two
others, and step as Metropolis says. Every round begins fresh.

Source
------
ter Braak (2006), A Markov chain Monte Carlo version of the genetic algorithm differential
evolution, Statistics and Computing 16:239-249 (from memory).
"""

import math

import numpy as np
from scipy.special import ndtr

from loosehand.reach.prior import LAPSE_SHARE, NOBODY_KNOWN

CHAINS = 64
PRIOR = NOBODY_KNOWN


class SlowModel:
    """Rounds of one hand and one law; a state is the days' tempos, the shape, the three noises."""

    def __init__(self, rounds, law):
        self.law = law
        self.shapes = 2 if law == "top rate" else 1
        first = min(each.day for each in rounds)
        self.days = sorted({(each.day - first).days for each in rounds})
        self.place = np.array([self.days.index((each.day - first).days) for each in rounds])
        self.tempo = np.array([each.tempo_bpm for each in rounds])
        held = np.array([float(each.count_held) for each in rounds])
        self.on = np.array([each.held_on for each in rounds])
        self.low = held * 60.0 / self.tempo
        self.high = (held + 1.0) * 60.0 / self.tempo
        places = np.array([each.counts + 1.0 for each in rounds])
        self.lapse = np.where(self.on, (places - held) / places, 1.0 / places)
        self.trend = np.array([[_level_covariance(a, b) for b in self.days] for a in self.days])

    def log_posterior(self, states):
        """Log of likelihood times prior, a state a row."""
        size = len(self.days)
        day = states[:, :size]
        log_shape, log_noise = states[:, size:-3], states[:, -3:]
        height = _log_normal(log_noise, *_noise_prior()) + _log_normal(
            log_shape, *self._shape_prior()
        )
        values, vectors = np.linalg.eigh(self.trend)
        turned = (day - PRIOR.minute_bpm) @ vectors
        spread = values + np.exp(2.0 * log_noise[:, :1])
        height -= 0.5 * (turned**2 / spread + np.log(spread)).sum(axis=1)
        return height + self._log_chance(day, log_shape, log_noise)

    def _shape_prior(self):
        """Means and spreads of the log of the steepness and of the time constant."""
        top = math.exp(PRIOR.log_top_s)
        drop = {
            "hyperbolic": 60.0 / 10.0 - 1.0,
            "top rate": (60.0 + top) / (10.0 + top) - 1.0,
            "log-linear": math.log(6.0),
        }[self.law]
        mean = np.array([PRIOR.log_drop - math.log(drop), PRIOR.log_top_s])
        sd = np.array([PRIOR.log_drop_sd, PRIOR.log_top_sd])
        return mean[: self.shapes], sd[: self.shapes]

    def _log_chance(self, day, log_shape, log_noise):
        minute, steepness = day[:, self.place], np.exp(log_shape[:, :1])
        top = np.exp(log_shape[:, 1:2]) if self.shapes == 2 else np.zeros_like(steepness)
        noises = np.exp(log_noise[:, 1:2]), np.exp(log_noise[:, 2:3])
        at_low = self._outlasts(self.low, minute, steepness, top, *noises)
        at_high = self._outlasts(self.high, minute, steepness, top, *noises)
        chance = ndtr(at_low) - np.where(self.on, 0.0, ndtr(at_high))
        return np.log((1.0 - LAPSE_SHARE) * chance + LAPSE_SHARE * self.lapse).sum(axis=1)

    def _outlasts(self, time_s, minute, steepness, top, tempo_noise, time_noise):
        """Margins at times: 1/z^2 = 1/z_tempo^2 + 1/z_time^2; under the sustainable z_tempo."""
        time = np.maximum(time_s, 1e-9)
        excess = (self.tempo - minute) / steepness
        if self.law == "log-linear":
            curve = minute - steepness * np.log(time / 60.0)
            log_held = math.log(60.0) - excess
        else:
            curve = minute + steepness * ((60.0 + top) / (time + top) - 1.0)
            over = np.maximum(1.0 + excess, 1e-12)
            log_held = np.log(np.maximum((60.0 + top) / over - top, 1e-3))
        by_tempo = (curve - self.tempo) / tempo_noise
        by_time = (log_held - np.log(time)) / time_noise
        with np.errstate(divide="ignore"):
            z = np.sign(by_tempo) / np.sqrt(by_tempo**-2.0 + by_time**-2.0)
        return np.where(time_s > 0.0, z, np.inf)

    def draw(self, *, seed, steps, burn_in, near_bpm):
        """Return states of all chains after the burn-in, one a row."""
        rng = np.random.default_rng(seed)
        size = len(self.days) + self.shapes + 3
        mean, sd = self._shape_prior()
        noise_mean, noise_sd = _noise_prior()
        centre = np.r_[np.full(len(self.days), near_bpm), mean, noise_mean]
        width = np.r_[np.full(len(self.days), 3.0), 0.5 * sd, 0.5 * noise_sd]
        states = centre + width * rng.standard_normal((CHAINS, size))
        height = self.log_posterior(states)
        kept = []
        half = CHAINS // 2
        for step in range(steps):
            for mine, others in ((slice(0, half), half), (slice(half, CHAINS), 0)):
                pair = others + rng.permuted(np.tile(np.arange(half), (half, 1)), axis=1)[:, :2].T
                scale = 1.0 if step % 10 == 0 else 2.38 / math.sqrt(2.0 * size)
                move = scale * (states[pair[0]] - states[pair[1]])
                tried = states[mine] + move + 1e-3 * rng.standard_normal((half, size))
                tried_height = self.log_posterior(tried)
                taken = np.log(rng.random(half)) < tried_height - height[mine]
                states[mine] = np.where(taken[:, None], tried, states[mine])
                height[mine] = np.where(taken, tried_height, height[mine])
            if step >= burn_in and step % 4 == 0:
                kept.append(states.copy())
        return np.concatenate(kept)

    def tempo_held_bpm(self, states, time_s, *, seed):
        """Tempo held for a time with even chance on the last day, its form apart: a draw a row."""
        size = len(self.days)
        day, form = states[:, :size], np.exp(states[:, -3])
        normal = np.random.default_rng(seed).standard_normal(len(states))
        values, vectors = np.linalg.eigh(self.trend)
        last = self.trend[-1] @ vectors
        spread = values + form[:, None] ** 2
        level = PRIOR.minute_bpm + ((day - PRIOR.minute_bpm) @ vectors / spread) @ last
        left = self.trend[-1, -1] - (last**2 / spread).sum(axis=1)
        level += np.sqrt(np.maximum(left, 0.0)) * normal
        steepness = np.exp(states[:, size])
        if self.law == "log-linear":
            return level - steepness * math.log(time_s / 60.0)
        top = np.exp(states[:, size + 1]) if self.shapes == 2 else 0.0
        return level + steepness * ((60.0 + top) / (time_s + top) - 1.0)


def _level_covariance(one, other):
    """Prior covariance of the trend's level on two days: start, slope, and every step of it."""
    shared = sum((one - step) * (other - step) for step in range(1, min(one, other) + 1))
    return (
        PRIOR.minute_sd_bpm**2
        + (PRIOR.gain_sd_bpm / 30.0) ** 2 * one * other
        + PRIOR.slope_step_sd_bpm**2 * shared
    )


def _noise_prior():
    """Means and spreads of the logs of form, tempo noise and time noise."""
    mean = [PRIOR.log_form_bpm, PRIOR.log_tempo_noise_bpm, PRIOR.log_time_noise]
    sd = [PRIOR.log_form_sd, PRIOR.log_tempo_noise_sd, PRIOR.log_time_noise_sd]
    return np.array(mean), np.array(sd)


def _log_normal(values, mean, sd):
    """Log density of independent normal values, a row a state, without constants."""
    return -0.5 * (((values - mean) / sd) ** 2).sum(axis=1)
