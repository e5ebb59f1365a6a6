"""What the model expects of a hand, with how sure that is: the answers, asked of the draws."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadTempo, InputError
from loosehand.reach.draws import Draws
from loosehand.reach.law_fits import KnownLaw
from loosehand.reach.laws import LAWS, Law, log_time_by_draw
from loosehand.reach.margin import Noise, margin
from loosehand.reach.seen import HandKind, hand_rate_factor

__all__ = ["DayForm", "Interval", "LawScore", "Reach", "Reaching", "RecoveryShift", "check_time_s"]

FloatArray = NDArray[np.float64]
_SEED = 4711
_LOW, _HIGH = 0.1, 0.9
_Z80 = 1.2815515655446004
_DAYS_A_MONTH = 30.0
_TREND_DAYS = 28
_SHOWS = 1.645 + 0.842
"""Standard errors of a change that is called one in 95 of 100 and found in 80 of 100."""
_PLATEAU_BPM = 1.0
_PLATEAU_CHANCE = 0.8
_PLATEAU_DAYS = 42
_NAMED = 0.5


@dataclass(frozen=True)
class Interval:
    """A figure: its median, and the bounds between which it lies with 80 chances of 100."""

    median: float
    low80: float
    high80: float

    @classmethod
    def of_normal(cls, mean: float, sd: float) -> "Interval":
        """Interval of a normal law."""
        return cls(float(mean), float(mean - _Z80 * sd), float(mean + _Z80 * sd))

    @classmethod
    def of_draws(cls, values: FloatArray) -> "Interval":
        """Interval of draws, shape (n,); inf is a value like any other."""
        ordered = np.sort(values)
        low, median, high = (
            float(ordered[min(int(share * len(ordered)), len(ordered) - 1)])
            for share in (_LOW, 0.5, _HIGH)
        )
        return cls(median, low, high)


@dataclass(frozen=True)
class LawScore:
    """A law: mean log score a day of days kept from it, and its weight in the answers."""

    law: Law
    held_out_score: float
    weight: float


@dataclass(frozen=True)
class DayForm:
    """A day that was played.

    Attributes
    ----------
    day : which
    level : tempo held for a minute there, by the trend: the day's form apart
    form_bpm : how far the day stood above or below the trend
    own_bpm, own_sd_bpm : what the day's rounds alone say of the trend there, and its spread, the
        form's included
    """

    day: date
    level: Interval
    form_bpm: Interval
    own_bpm: float
    own_sd_bpm: float


@dataclass(frozen=True)
class RecoveryShift:
    """How the answer would stand with another time of recovery: tempos for one and four minutes."""

    recovery_s: float
    minute_bpm: float
    four_minutes_bpm: float


@dataclass(frozen=True)
class Reaching:
    """When a target is reached, if the trend goes on.

    Attributes
    ----------
    chance : that it is reached by the last day asked for
    earliest, median, latest : days by which it is reached with 10, 50 and 90 chances of 100; None
        where that does not come by the last day
    """

    chance: float
    earliest: date | None
    median: date | None
    latest: date | None


@dataclass(frozen=True)
class Reach:
    """What is known of a hand. Tempos are in counts a minute of its kind.

    Attributes
    ----------
    kind : whose, and how it is played
    as_of : the day told of
    first_day, last_day : of the rounds that count here; None where there are none
    rounds : how many count here
    law : the one that foretells best
    laws : all of them
    days : those that were played, in order
    longest_held_s : longest hold that was seen
    highest_seen_bpm : highest tempo that was played
    recovery : how the answer stands with half the recovery time, with it, and with its double
    recovery_is_told : whether the order of the rounds tells of the recovery, or it is a prior
    notes : what to know with it, in sentences
    draws : of the posterior, in sixteenths of one hand
    known : where the laws were found, for a quick fit after another round
    """

    kind: HandKind
    as_of: date
    first_day: date | None
    last_day: date | None
    rounds: int
    law: Law
    laws: tuple[LawScore, ...]
    days: tuple[DayForm, ...]
    longest_held_s: float
    highest_seen_bpm: float
    recovery: tuple[RecoveryShift, ...]
    recovery_is_told: bool
    notes: tuple[str, ...]
    draws: Draws
    known: tuple[KnownLaw, ...]

    def tempo_held_bpm(self, time_s: float) -> Interval:
        """Tempo held for a time with even chance, on a day of average form.

        Raises
        ------
        InputError   if the time is not one of a round
        """
        return Interval.of_draws(self._tempo_draws(time_s) / self._factor)

    def hold_time_s(self, tempo_bpm: float) -> Interval:
        """Time for which a tempo is held with even chance on such a day; inf where without end.

        Raises
        ------
        BadTempo   if it is none
        """
        level = self._level_draws()
        return Interval.of_draws(np.exp(self._log_time(self._asked(tempo_bpm), level)))

    def chance_of_holding(self, *, tempo_bpm: float, time_s: float) -> float:
        """Chance that a fresh hand holds a tempo for a time, on a day like any other.

        Raises
        ------
        BadTempo, InputError   if tempo or time cannot be
        """
        from scipy.special import ndtr

        asked = self._asked(tempo_bpm)
        form = np.random.default_rng(_SEED).standard_normal(len(self.draws.law))
        level = self._level_draws() + self.draws.form_bpm * form
        z = np.empty(len(level))
        for place, law in enumerate(LAWS):
            mine = self.draws.law == place
            z[mine] = margin(
                law,
                time_s=np.full(int(mine.sum()), check_time_s(time_s)),
                tempo_bpm=np.full(int(mine.sum()), asked),
                minute_bpm=level[mine],
                steepness_bpm=self.draws.steepness_bpm[mine],
                top_s=self.draws.top_s[mine],
                noise=Noise(self.draws.tempo_noise_bpm[mine], self.draws.time_noise[mine]),
            ).z
        return float(ndtr(z).mean())

    def sustainable_bpm(self) -> Interval | None:
        """Tempo held without end, told from the laws that have one; None where they weigh less."""
        has_one = self.draws.law != LAWS.index("log-linear")
        if not has_one.mean() > _NAMED:
            return None
        level = self._level_draws() - self.draws.steepness_bpm
        return Interval.of_draws(level[has_one] / self._factor)

    def trend_bpm_per_month(self) -> Interval:
        """Gain in 30 days, as the last four weeks went."""
        return Interval.of_draws(self._gain_draws())

    def probability_improved(self, since: date) -> float:
        """Chance that the hand is better than it was on a day, forms apart.

        Raises
        ------
        InputError   if the day lies after the one told of
        """
        if since > self.as_of:
            raise InputError(f"since = {since} lies after {self.as_of}; want an earlier day")
        then = self.draws.level_at(float((since - self.as_of).days))
        return float((self._level_draws() > then).mean())

    def smallest_change_bpm(self) -> float:
        """Smallest gain in a month that these rounds would show."""
        return float(_SHOWS * self._gain_draws().std())

    def is_plateau(self) -> bool:
        """Whether the hand stands still, beyond what noise explains."""
        if self.first_day is None or (self.as_of - self.first_day).days < _PLATEAU_DAYS:
            return False
        still = np.abs(self._gain_draws()) < _PLATEAU_BPM
        return bool(still.mean() > _PLATEAU_CHANCE)

    def is_beyond_seen(self, time_s: float) -> bool:
        """Whether no hold of that length was ever seen: an answer rests on the law alone."""
        return time_s > self.longest_held_s + 1e-6

    def date_of_reaching(self, *, tempo_bpm: float, time_s: float, last: date) -> Reaching:
        """When a tempo will be held for a time with even chance, if the trend goes on.

        Raises
        ------
        BadTempo, InputError   if tempo, time or day cannot be
        """
        asked = self._asked(tempo_bpm)
        ahead = (last - self.as_of).days
        longest = float(self.draws.grid_day.max())
        if not 0 <= ahead <= longest:
            raise InputError(
                f"last = {last} cannot be; want a day from {self.as_of} to "
                f"{self.as_of + timedelta(days=longest)}"
            )
        above = self._tempo_draws(time_s) - self._level_draws()
        days = np.arange(ahead + 1)
        reached = np.zeros(len(above), dtype=bool)
        share = np.empty(len(days))
        for place, day in enumerate(days):
            reached |= self.draws.level_at(float(day)) + above >= asked
            share[place] = reached.mean()

        def first(chance: float) -> date | None:
            found = np.nonzero(share >= chance)[0]
            return self.as_of + timedelta(days=int(found[0])) if len(found) else None

        return Reaching(float(share[-1]), first(_LOW), first(0.5), first(_HIGH))

    def draw_hold_s(self, tempo_bpm: float, rng: np.random.Generator, size: int) -> FloatArray:
        """Hold times of simulated rounds on a day like any other; inf where without end.

        Parameters
        ----------
        tempo_bpm : of the rounds
        rng : where chance comes from
        size : how many

        Returns
        -------
        hold_s : float array, shape (size,), seconds
        """
        pick = rng.integers(len(self.draws.law), size=size)
        normal = rng.standard_normal((3, len(self.draws.law)))
        off = self.draws.form_bpm * normal[0] + self.draws.tempo_noise_bpm * normal[1]
        log_time = self._log_time(self._asked(tempo_bpm), self._level_draws() + off)
        return np.asarray(np.exp(log_time + self.draws.time_noise * normal[2])[pick])

    @property
    def _factor(self) -> float:
        return hand_rate_factor(self.kind)

    def _asked(self, tempo_bpm: float) -> float:
        if not (np.isfinite(tempo_bpm) and 20.0 <= tempo_bpm <= 400.0):
            raise BadTempo(f"tempo_bpm = {tempo_bpm:g} is not a tempo; want 20 to 400")
        return tempo_bpm * self._factor

    def _level_draws(self) -> FloatArray:
        return self.draws.level_at(0.0)

    def _gain_draws(self) -> FloatArray:
        gained = self._level_draws() - self.draws.level_at(-float(_TREND_DAYS))
        return np.asarray(gained * _DAYS_A_MONTH / _TREND_DAYS / self._factor)

    def _tempo_draws(self, time_s: float) -> FloatArray:
        return self.draws.tempo_at(np.array([check_time_s(time_s)]))[:, 0]

    def _log_time(self, tempo_bpm: float, level_bpm: FloatArray) -> FloatArray:
        """Log of the time held, draw by draw."""
        excess = (tempo_bpm - level_bpm) / self.draws.steepness_bpm
        return log_time_by_draw(self.draws.law, excess, top_s=self.draws.top_s)


def check_time_s(time_s: float) -> float:
    """Check a time held and return it.

    Raises
    ------
    InputError   if it is not one of a round
    """
    if not (np.isfinite(time_s) and 0.5 <= time_s <= 4 * 3600.0):
        raise InputError(f"time_s = {time_s:g} cannot be; want 0.5 to 14400 seconds")
    return float(time_s)
