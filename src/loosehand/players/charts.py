"""Invented charts: rounds of a hand whose ability is known, played day by day.

A hand has a curve: the tempo that it holds for a given time. Three laws of the curve are played
here, all of them hypotheses where strokes are concerned (the first two are those of critical
power in sport). Over the days the whole curve moves with the gain and with the form of the day,
and from round to round a little more; the time held varies besides. What a hard round took from
the hand comes back while it rests.

Written without any look at the model that is fitted to charts: it is what that model is tested on.
"""

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from loosehand.errors import InputError

__all__ = [
    "CHART_LAWS",
    "DAYS_PER_MONTH",
    "ChartPlayer",
    "ChartRound",
    "LadderHabit",
    "draw_chart_hands",
    "draw_chart_player",
    "play_ladders",
]

CHART_LAWS = ("hyperbolic", "top rate", "log-linear")
DAYS_PER_MONTH = 365.25 / 12.0
QUICK_LOSS_COUNTS = 16
_SHORT_S, _MINUTE_S = 10.0, 60.0
_NODES = 41
# Share of the variance of a day's form that all hands of a person have in common: ours.
_FORM_IN_COMMON = 0.5


@dataclass(frozen=True)
class ChartPlayer:
    """What one hand truly holds.

    Attributes
    ----------
    law : 'hyperbolic' (tempo falls as 1/t towards a sustainable tempo), 'top rate' (the same, but
        no faster than a top tempo however short), or 'log-linear' (falls with the logarithm of t)
    minute_bpm : tempo of the curve at 60 s, on a day of average form, at the last day
    short_lead_bpm : tempo of the curve at 10 s over that at 60 s
    top_s : constant added to the time in the law 'top rate'; not used by the others
    gain_bpm_per_month : how much the curve rises
    day_form_bpm : spread (standard deviation) of the day's form
    time_noise : spread of the logarithm of the time held
    tempo_noise_bpm : spread of the curve's shift from round to round
    recovery_s : time in which all but 1/e of what was spent comes back at rest; None: at once
    lapse_share : share of rounds lost by a slip that has nothing to do with the tempo
    """

    law: str
    minute_bpm: float
    short_lead_bpm: float
    top_s: float
    gain_bpm_per_month: float
    day_form_bpm: float
    time_noise: float
    tempo_noise_bpm: float
    recovery_s: float | None
    lapse_share: float

    def __post_init__(self) -> None:
        """Refuse a law that is not played here."""
        if self.law not in CHART_LAWS:
            raise InputError(f"law = {self.law!r} is not one of {', '.join(CHART_LAWS)}.")

    @property
    def reserve_bpm_s(self) -> float:
        """Strokes in reserve above the sustainable tempo, as tempo times seconds."""
        ends_s = (_SHORT_S + self._added_s, _MINUTE_S + self._added_s)
        return self.short_lead_bpm / (1.0 / ends_s[0] - 1.0 / ends_s[1])

    @property
    def sustainable_bpm(self) -> float | None:
        """Tempo under which the hand does not run down; None where the law has none."""
        if self.law == "log-linear":
            return None
        return self.minute_bpm - self.reserve_bpm_s / (_MINUTE_S + self._added_s)

    @property
    def top_bpm(self) -> float | None:
        """Tempo at which nothing is held, however short; None where the law has none."""
        if self.law != "top rate":
            return None
        return self.minute_bpm + self.reserve_bpm_s * (1.0 / self.top_s - 1.0 / self._minute_s)

    @property
    def _added_s(self) -> float:
        return self.top_s if self.law == "top rate" else 0.0

    @property
    def _minute_s(self) -> float:
        return _MINUTE_S + self._added_s

    def curve_bpm(self, time_s: float) -> float:
        """Tempo of the curve at a time, without any noise, at the last day.

        Examples
        --------
        >>> hand = ChartPlayer("hyperbolic", 92.0, 10.0, 0.0, 0.0, 1.0, 0.2, 0.5, None, 0.0)
        >>> [round(hand.curve_bpm(time_s), 1) for time_s in (10.0, 60.0, 240.0)]
        [102.0, 92.0, 90.5]
        """
        if self.law == "log-linear":
            fall_bpm = self.short_lead_bpm / math.log(_MINUTE_S / _SHORT_S)
            return self.minute_bpm - fall_bpm * math.log(time_s / _MINUTE_S)
        past = 1.0 / (time_s + self._added_s) - 1.0 / self._minute_s
        return self.minute_bpm + self.reserve_bpm_s * past

    def curve_s(self, tempo_bpm: float) -> float:
        """Time of the curve at a tempo: 0 at or over the top, infinite if it is sustainable.

        Examples
        --------
        >>> hand = ChartPlayer("hyperbolic", 92.0, 10.0, 0.0, 0.0, 1.0, 0.2, 0.5, None, 0.0)
        >>> [round(hand.curve_s(tempo_bpm), 1) for tempo_bpm in (102.0, 92.0, 90.0)]
        [10.0, 60.0, inf]
        """
        over_bpm = tempo_bpm - self.minute_bpm
        if self.law == "log-linear":
            return _MINUTE_S * math.exp(-over_bpm * math.log(6.0) / self.short_lead_bpm)
        inverse = over_bpm / self.reserve_bpm_s + 1.0 / self._minute_s
        return math.inf if inverse <= 0.0 else max(1.0 / inverse - self._added_s, 0.0)

    def chance_of_holding(self, *, tempo_bpm: float, time_s: float, form_bpm: float = 0.0) -> float:
        """Chance that a rested hand holds a tempo for a time, slips apart, at the last day.

        Parameters
        ----------
        tempo_bpm, time_s : what is asked
        form_bpm : spread of the form of the day: 0 on a day of average form
        """
        node, weight = np.polynomial.hermite_e.hermegauss(_NODES)
        held_bpm = [self.curve_bpm(time_s * math.exp(-self.time_noise * one)) for one in node]
        spread_bpm = max(math.hypot(self.tempo_noise_bpm, form_bpm), 1e-9)
        chances = [_normal_share((bpm - tempo_bpm) / spread_bpm) for bpm in held_bpm]
        return float(weight @ np.array(chances) / weight.sum())

    def tempo_held_bpm(self, time_s: float) -> float:
        """Tempo held for a time with a chance of one half, slips apart, at the last day.

        On a day of average form, by a rested hand. A little over the curve, since variable time
        lifts a curve that is steep at short times more than it lowers it.
        """
        low, high = self.curve_bpm(time_s) - 50.0, self.curve_bpm(time_s) + 50.0
        while high - low > 1e-6:
            middle = 0.5 * (low + high)
            held = self.chance_of_holding(tempo_bpm=middle, time_s=time_s) >= 0.5
            low, high = (middle, high) if held else (low, middle)
        return 0.5 * (low + high)


@dataclass(frozen=True)
class ChartRound:
    """One row of an invented chart; day counts from 0, order from 1 within its day."""

    day: int
    order: int
    hand: str
    tempo_bpm: float
    places_per_count: int
    round_s: float
    count_held: int
    held_on: bool
    rest_s: float


@dataclass(frozen=True)
class LadderHabit:
    """How ladders are played.

    Attributes
    ----------
    lowest_bpm, highest_bpm, step_bpm : the tempos
    below_edge_bpm : begin no lower than this far under the tempo that the curve has at a minute;
        None: at the lowest tempo
    is_shuffled : the tempos come in any order
    is_full : every tempo is played, however soon those before it were lost
    test_every_days : before the ladder of every so many days stands one fresh round of each hand,
        always at the tempo of the ladder nearest to the curve's at a minute; None: never
    round_s, rest_s : a round, and the rest before each
    """

    lowest_bpm: float = 60.0
    highest_bpm: float = 140.0
    step_bpm: float = 5.0
    below_edge_bpm: float | None = None
    is_shuffled: bool = False
    is_full: bool = False
    test_every_days: int | None = None
    round_s: float = 60.0
    rest_s: float = 60.0


def draw_chart_player(
    rng: np.random.Generator, law: str, *, carry_over_share: float = 0.5
) -> ChartPlayer:
    """Draw a hand that plays sixteenths.

    The ranges are set wide and by feel: no study of drummers gives them (common practice, no
    source).

    Parameters
    ----------
    rng : chance
    law : one of `CHART_LAWS`
    carry_over_share : share of hands that need time to come back after a hard round
    """
    is_flat = rng.random() < 1.0 / 3.0
    gain_bpm_per_month = rng.normal(1.5, 1.5)
    recovery_s = math.exp(rng.uniform(math.log(15.0), math.log(90.0)))
    return ChartPlayer(
        law=law,
        minute_bpm=float(np.clip(rng.normal(92.0, 10.0), 65.0, 125.0)),
        short_lead_bpm=math.exp(rng.normal(math.log(7.7), 0.35)),
        top_s=math.exp(rng.uniform(math.log(1.5), math.log(12.0))),
        gain_bpm_per_month=0.0 if is_flat else gain_bpm_per_month,
        day_form_bpm=rng.uniform(0.8, 3.0),
        time_noise=rng.uniform(0.1, 0.4),
        tempo_noise_bpm=rng.uniform(0.3, 1.5),
        recovery_s=recovery_s if rng.random() < carry_over_share else None,
        lapse_share=rng.uniform(0.0, 0.03),
    )


def draw_chart_hands(
    rng: np.random.Generator, law: str, *, carry_over_share: float = 0.5
) -> dict[str, ChartPlayer]:
    """Draw a person's weak and strong hand and the two alternating, in the order of a workout."""
    weak = draw_chart_player(rng, law, carry_over_share=carry_over_share)
    strong = draw_chart_player(rng, law, carry_over_share=carry_over_share)
    both = draw_chart_player(rng, law, carry_over_share=carry_over_share)
    strong_bpm = weak.minute_bpm + abs(rng.normal(6.0, 3.0))
    both_bpm = 0.5 * (weak.minute_bpm + strong_bpm) + rng.normal(0.0, 3.0)
    return {
        "left": weak,
        "right": replace(strong, minute_bpm=strong_bpm, recovery_s=weak.recovery_s),
        "alternating": replace(both, minute_bpm=both_bpm, recovery_s=weak.recovery_s),
    }


def play_ladders(
    players: Mapping[str, ChartPlayer],
    days: Sequence[int],
    rng: np.random.Generator,
    *,
    habit: LadderHabit,
) -> list[ChartRound]:
    """Play a workout a day: a ladder of each hand, the hands taking turns at every tempo.

    A hand's ladder ends after two tempos in a row lost within 16 counts; where the tempos are
    shuffled, tempos over two such are left out.

    Parameters
    ----------
    players : the hands, by name (left, right, alternating), in the order in which they play
    days : days with a workout, rising; the last is the one that the hands' traits speak of
    rng : chance
    habit : how the ladders are played

    Returns
    -------
    rounds : in the order in which they were played
    """
    unknown = set(players) - {"left", "right", "alternating"}
    if unknown or not players:
        raise InputError(f"players has {sorted(unknown)}: name left, right or alternating.")
    if not days or any(later <= day for day, later in itertools.pairwise(days)):
        raise InputError(f"days = {list(days)[:5]} must rise, and there must be one at least.")
    rounds: list[ChartRound] = []
    for day in days:
        rounds += _Workout(players, day, days[-1], rng, habit).play(is_first=day == days[0])
    return rounds


class _Workout:
    """A day's workout while it is played: what is left in each hand, and what was lost soon."""

    def __init__(
        self,
        players: Mapping[str, ChartPlayer],
        day: int,
        last_day: int,
        rng: np.random.Generator,
        habit: LadderHabit,
    ) -> None:
        self.players, self.day, self.rng, self.habit = players, day, rng, habit
        months = (last_day - day) / DAYS_PER_MONTH
        common, own = rng.normal(), rng.normal(size=len(players))
        self.shift_bpm: dict[str, float] = {}
        for (hand, player), one in zip(players.items(), own, strict=True):
            form = math.sqrt(_FORM_IN_COMMON) * common + math.sqrt(1.0 - _FORM_IN_COMMON) * one
            gone_bpm = player.gain_bpm_per_month * months
            self.shift_bpm[hand] = player.day_form_bpm * float(form) - gone_bpm
        self.left = {"left": 1.0, "right": 1.0}
        self.lost_soon: dict[str, list[float]] = {hand: [] for hand in players}
        self.done: set[str] = set()
        self.rounds: list[ChartRound] = []

    def play(self, *, is_first: bool) -> list[ChartRound]:
        """Play the test, if it is its day, and the ladders."""
        every = self.habit.test_every_days
        if every is not None and (is_first or self.day % every == 0):
            for hand, player in self.players.items():
                self._round(hand, _nearest(self._tempos(), player.minute_bpm), is_test=True)
        for tempo_bpm in self._order():
            for hand, player in self.players.items():
                if self._is_left_out(hand, player, tempo_bpm):
                    continue
                self._round(hand, tempo_bpm, is_test=False)
        return self.rounds

    def _tempos(self) -> list[float]:
        habit = self.habit
        steps = math.floor((habit.highest_bpm - habit.lowest_bpm) / habit.step_bpm + 1e-9)
        return [habit.lowest_bpm + step * habit.step_bpm for step in range(steps + 1)]

    def _order(self) -> Iterator[float]:
        tempos = self._tempos()
        if self.habit.is_shuffled:
            tempos = [tempos[place] for place in self.rng.permutation(len(tempos))]
        yield from tempos

    def _is_left_out(self, hand: str, player: ChartPlayer, tempo_bpm: float) -> bool:
        below_bpm = self.habit.below_edge_bpm
        if below_bpm is not None and tempo_bpm < player.minute_bpm - below_bpm:
            return True
        if self.habit.is_full:
            return False
        if self.habit.is_shuffled:
            return sum(lost_bpm < tempo_bpm for lost_bpm in self.lost_soon[hand]) >= 2
        return hand in self.done

    def _round(self, hand: str, tempo_bpm: float, *, is_test: bool) -> None:
        player, habit = self.players[hand], self.habit
        rest_s = habit.rest_s
        self._rest(rest_s, hands=self.left)
        counts = math.floor(tempo_bpm * habit.round_s / 60.0 + 1e-6)
        hold_s = self._hold_s(hand, player, tempo_bpm)
        held = counts if hold_s >= habit.round_s else math.floor(hold_s * tempo_bpm / 60.0)
        count_held = min(held, counts)
        order = len(self.rounds) + 1
        places = 8 if hand == "alternating" else 4
        self.rounds.append(
            ChartRound(
                day=self.day,
                order=order,
                hand=hand,
                tempo_bpm=tempo_bpm,
                places_per_count=places,
                round_s=habit.round_s,
                count_held=count_held,
                held_on=count_held >= counts,
                rest_s=rest_s,
            )
        )
        if not is_test:
            self._note(hand, tempo_bpm, was_soon=count_held < min(QUICK_LOSS_COUNTS, counts))

    def _note(self, hand: str, tempo_bpm: float, *, was_soon: bool) -> None:
        lost_bpm = self.lost_soon[hand]
        if was_soon:
            lost_bpm.append(tempo_bpm)
        elif not self.habit.is_shuffled:
            lost_bpm.clear()
        if len(lost_bpm) >= 2:
            self.done.add(hand)

    def _hold_s(self, hand: str, player: ChartPlayer, tempo_bpm: float) -> float:
        """Time held in one round; what it took is gone from the hands that played."""
        shift_bpm = self.shift_bpm[hand] + self.rng.normal(0.0, player.tempo_noise_bpm)
        longer = math.exp(self.rng.normal(0.0, player.time_noise))
        whole_s = player.curve_s(tempo_bpm - shift_bpm) * longer
        working = _hands_of(hand)
        left = max(min(self.left[one] for one in working), 1e-9)
        added_s = player.top_s * longer if player.law == "top rate" else 0.0
        can_s = max(left * (whole_s + added_s) - added_s, 0.0)
        slips = self.rng.random() < player.lapse_share
        hold_s = min(can_s, self.habit.round_s)
        hold_s = self.rng.random() * hold_s if slips else hold_s
        for one in working:
            self._spend(one, player, hold_s / (whole_s + added_s), tempo_bpm, hold_s)
        self._rest(hold_s, hands=set(self.left) - set(working))
        return hold_s

    def _spend(
        self, hand: str, player: ChartPlayer, share: float, tempo_bpm: float, played_s: float
    ) -> None:
        if player.recovery_s is None:
            return
        self.left[hand] = max(self.left[hand] - share, 0.0)
        sustainable_bpm = player.sustainable_bpm
        if share == 0.0 and sustainable_bpm:  # under the sustainable tempo some comes back
            slack = max(1.0 - tempo_bpm / (sustainable_bpm + self.shift_bpm[hand]), 0.0)
            self._recover(hand, slack * played_s / player.recovery_s)

    def _rest(self, rest_s: float, *, hands: Iterable[str]) -> None:
        for hand in hands:
            player = self.players.get(hand) or next(iter(self.players.values()))
            if player.recovery_s is None:
                self.left[hand] = 1.0
            else:
                self._recover(hand, rest_s / player.recovery_s)

    def _recover(self, hand: str, time_constants: float) -> None:
        self.left[hand] = 1.0 - (1.0 - self.left[hand]) * math.exp(-time_constants)


def _hands_of(hand: str) -> tuple[str, ...]:
    """Which hands work."""
    return ("left", "right") if hand == "alternating" else (hand,)


def _nearest(tempos: Sequence[float], wanted_bpm: float) -> float:
    return min(tempos, key=lambda tempo_bpm: abs(tempo_bpm - wanted_bpm))


def _normal_share(deviate: float) -> float:
    return 0.5 * math.erfc(-deviate / math.sqrt(2.0))
