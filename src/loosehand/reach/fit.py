"""Fit a hand: from rounds to what it can hold."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import NotIdentifiable
from loosehand.reach.draws import draw_posterior, draw_prior, level_covariance
from loosehand.reach.hand_data import HandData, fresh_bounds_s, hand_data, order_varies
from loosehand.reach.held_out import held_out_scores
from loosehand.reach.laplace import Mode, Shape, Task, find_mode, margins
from loosehand.reach.laws import LAWS, Curve, Law
from loosehand.reach.margin import Noise
from loosehand.reach.noises import LawFit, Start, fit_law
from loosehand.reach.prior import NOBODY_KNOWN, Prior, log_steepness
from loosehand.reach.reach import DayForm, Interval, LawScore, Reach, RecoveryShift
from loosehand.reach.reserve import RECOVERY_S, RECOVERY_SHARES
from loosehand.reach.seen import HandKind, RoundSeen, hand_rate_factor

__all__ = ["expect_of_nobody", "fit_hand"]

FloatArray = NDArray[np.float64]
_DRAWS = 1000
_WINDOW_DAYS = 182
_GAP_DAYS = 120
_MOST_ROUNDS = 6000
_AHEAD_DAYS = 364
_Z80 = 1.2815515655446004
_SURE_Z = 4.5
_LEAST_WEIGHT = 1e-4


@dataclass(frozen=True)
class _Chosen:
    """Rounds that count, all of those days, and what was left out, in sentences."""

    rounds: list[RoundSeen]
    notes: list[str]


def expect_of_nobody(kind: HandKind, *, as_of: date, prior: Prior = NOBODY_KNOWN) -> Reach:
    """What is expected of a hand of which nothing was heard: the stated prior."""
    grid = _grid(0)
    return Reach(
        kind=kind,
        as_of=as_of,
        first_day=None,
        last_day=None,
        rounds=0,
        law="hyperbolic",
        laws=tuple(LawScore(law, float("nan"), 1.0 / len(LAWS)) for law in LAWS),
        days=(),
        longest_held_s=0.0,
        highest_seen_bpm=0.0,
        recovery=(),
        recovery_is_told=False,
        notes=("Nothing was heard of this hand: this is what is believed of anybody's.",),
        draws=draw_prior(prior=prior, grid_day=grid, draws=4 * _DRAWS),
    )


def fit_hand(
    rounds: Sequence[RoundSeen],
    *,
    kind: HandKind,
    as_of: date,
    laws: Sequence[Law] = LAWS,
    prior: Prior = NOBODY_KNOWN,
    recovery_s: float | None = None,
) -> Reach:
    """Fit what one hand holds.

    Parameters
    ----------
    rounds : of one player, of any kinds; warm-ups and void ones left out
    kind : whose hand is told of, and how it plays
    as_of : the day told of; later rounds are left out
    laws : which are weighed against each other
    prior : what is believed beforehand
    recovery_s : time constant with which the reserve comes back in rests; None where it is not
        known, and the prior of ``reserve`` is integrated over

    Raises
    ------
    NotIdentifiable   if there is no round of the kind up to the day
    """
    chosen = _choose(rounds, kind=kind, as_of=as_of)
    data = hand_data(chosen.rounds, kind=kind)
    fits = _fit_laws(data, laws=laws, prior=prior, recovery_s=recovery_s or RECOVERY_S[0])
    scores = np.array([held_out_scores(fit.task, fit.points[0]).mean() for fit in fits])
    best = fits[int(np.argmax(scores))]
    weighed = _weigh(fits) if recovery_s else _weigh_recoveries(fits, data, prior=prior)
    as_of_day = float((as_of - data.first_day).days)
    draws = draw_posterior(
        weighed,
        prior=prior,
        grid_day=_grid(int(as_of_day)),
        as_of_day=as_of_day,
        draws=_DRAWS,
    )
    factor = hand_rate_factor(kind)
    return Reach(
        kind=kind,
        as_of=as_of,
        first_day=data.first_day,
        last_day=data.last_day,
        rounds=len(data.tempo_bpm),
        law=best.task.law,
        laws=tuple(
            LawScore(fit.task.law, float(score), _weight_of(fit.task.law, weighed))
            for fit, score in zip(fits, scores, strict=True)
        ),
        days=_day_forms(best, prior=prior, factor=factor),
        longest_held_s=float(data.low_s.max()),
        highest_seen_bpm=float(data.tempo_bpm.max() / factor),
        recovery=_recovery_shifts(best, recovery_s or RECOVERY_S[0], prior=prior, factor=factor),
        recovery_is_told=recovery_s is None and order_varies(data),
        notes=(*chosen.notes, *_notes_of(data)),
        draws=draws,
    )


def _choose(rounds: Sequence[RoundSeen], *, kind: HandKind, as_of: date) -> _Chosen:
    """Choose the rounds that tell of today, and say what was left out."""
    own = sorted((each for each in rounds if each.kind == kind), key=lambda each: each.day)
    past = [each for each in own if each.day <= as_of]
    if not past:
        raise NotIdentifiable(f"no round of this hand and kind is on the chart up to {as_of}")
    notes = []
    if len(past) < len(own):
        notes.append(f"{_rounds(len(own) - len(past))} after {as_of} are left out.")
    days = sorted({each.day for each in past})
    first = max(_after_gap(days), days[-1] - timedelta(days=_WINDOW_DAYS - 1))
    kept = [each for each in past if each.day >= first]
    if len(kept) > _MOST_ROUNDS:
        first = kept[-_MOST_ROUNDS].day + timedelta(days=1)
        first = min(first, days[-1])
        kept = [each for each in kept if each.day >= first]
    if len(kept) < len(past):
        notes.append(
            f"{_rounds(len(past) - len(kept))} before {first} are left out: they are too long ago "
            "or too many to tell of today."
        )
    if (as_of - days[-1]).days > 28:
        notes.append(f"Nothing was played since {days[-1]}: what has changed since is a guess.")
    return _Chosen([each for each in rounds if first <= each.day <= as_of], notes)


def _after_gap(days: Sequence[date]) -> date:
    """First day after the last long gap."""
    first = days[0]
    for before, after in pairwise(days):
        if (after - before).days > _GAP_DAYS:
            first = after
    return first


def _rounds(count: int) -> str:
    return "1 round" if count == 1 else f"{count} rounds"


def _grid(days_back: int) -> FloatArray:
    """Days of the draws' levels: weekly behind, fortnightly ahead."""
    back = max(days_back, 28)
    behind = np.unique([*range(-28, 1, 7), *range(-back, 1, 7), -back])
    return np.array([*behind, *range(14, _AHEAD_DAYS + 1, 14)], dtype=float)


def _fit_laws(
    data: HandData, *, laws: Sequence[Law], prior: Prior, recovery_s: float
) -> list[LawFit]:
    """Fit every law, the likeliest at first sight first; the others begin where it ended."""
    values, vectors = np.linalg.eigh(level_covariance(data.days, data.days, prior=prior))
    values = np.maximum(values, 0.0)
    day = _first_guess(data, prior)
    spreads = np.array([prior.log_form_bpm, prior.log_tempo_noise_bpm, prior.log_time_noise])
    seen: list[tuple[Task, Mode]] = []
    for law in laws:
        shape = _shape(law, prior)
        low_s, high_s = data.low_s, data.high_s
        task = Task(data, law, low_s, high_s, prior.minute_bpm, values, vectors, shape)
        seen.append(_told_apart(task, Start(day, shape.mean, spreads), recovery_s))
    seen.sort(key=lambda each: -each[1].log_evidence)
    fits: list[LawFit] = []
    for task, mode in seen:
        known = max(fits, key=lambda fit: fit.top_height) if fits else None
        start = Start(mode.day_bpm, mode.log_shape, spreads)
        fits.append(fit_law(task, prior=prior, start=start, known=known))
    return sorted(fits, key=lambda fit: LAWS.index(fit.task.law))


def _told_apart(task: Task, start: Start, recovery_s: float) -> tuple[Task, Mode]:
    """Set the bounds of a fresh hand, and leave out rounds that tell nothing."""
    form_bpm, tempo_bpm, time_share = map(float, np.exp(start.log_spreads))
    noise = Noise(tempo_bpm, time_share)
    day, shape = start.day_bpm, start.log_shape
    mode = find_mode(task, noise=noise, form_bpm=form_bpm, day_bpm=day, log_shape=shape)
    for _ in range(2):
        task = _refreshed(task, mode, recovery_s)
        day, shape = mode.day_bpm, mode.log_shape
        mode = find_mode(task, noise=noise, form_bpm=form_bpm, day_bpm=day, log_shape=shape)
    minute_bpm = mode.day_bpm[task.data.day_index]
    low, _ = margins(task, noise, minute_bpm=minute_bpm, log_shape=mode.log_shape)
    telling = ~(np.isinf(task.high_s) & (low.z > _SURE_Z))
    data = _only(task.data, telling)
    return replace(task, data=data, low_s=task.low_s[telling], high_s=task.high_s[telling]), mode


def _refreshed(task: Task, mode: Mode, recovery_s: float) -> Task:
    """The task with the bounds that a fresh hand would have, by the curve of a mode."""
    low_s, high_s = fresh_bounds_s(
        task.data,
        law=task.law,
        minute_bpm=mode.day_bpm,
        steepness_bpm=float(np.exp(mode.log_shape[0])),
        top_s=float(np.exp(mode.log_shape[1])) if task.law == "top rate" else 0.0,
        recovery_s=recovery_s,
    )
    return replace(task, low_s=low_s, high_s=high_s)


_Weighed = list[tuple[LawFit, float]]


def _weigh(fits: Sequence[LawFit]) -> _Weighed:
    """Weights of laws by their evidence."""
    return list(zip(fits, _shares(np.array([fit.log_evidence for fit in fits])), strict=True))


def _weigh_recoveries(fits: Sequence[LawFit], data: HandData, *, prior: Prior) -> _Weighed:
    """Weights of laws and recoveries: of these by evidence only where the order of rounds varies.

    In a ladder, which always rises, tiring and tempo cannot be told apart: there the prior of the
    recovery stays as it was.
    """
    every = [(fits, RECOVERY_SHARES[0])]
    for recovery_s, share in zip(RECOVERY_S[1:], RECOVERY_SHARES[1:], strict=True):
        every.append(([_with_recovery(fit, recovery_s) for fit in fits], share))
    if order_varies(data):
        flat = [(fit, np.log(share)) for some, share in every for fit in some]
        shares = _shares(np.array([fit.log_evidence + log_share for fit, log_share in flat]))
        return [(fit, weight) for (fit, _), weight in zip(flat, shares, strict=True)]
    return [(fit, share * weight) for some, share in every for fit, weight in _weigh(some)]


def _with_recovery(fit: LawFit, recovery_s: float) -> LawFit:
    """The law at its top point's noises, with another recovery."""
    top = fit.points[0]
    task, mode = fit.task, top.mode
    for _ in range(2):
        task = _refreshed(task, mode, recovery_s)
        mode = find_mode(
            task,
            noise=top.noise,
            form_bpm=top.form_bpm,
            day_bpm=mode.day_bpm,
            log_shape=mode.log_shape,
        )
    gained = mode.log_evidence - top.mode.log_evidence
    return replace(
        fit,
        task=task,
        points=(replace(top, weight=1.0, mode=mode),),
        log_evidence=fit.log_evidence + gained,
    )


def _recovery_shifts(
    fit: LawFit, recovery_s: float, *, prior: Prior, factor: float
) -> tuple[RecoveryShift, ...]:
    """How the most probable curve of the last day moves with the time of recovery."""
    trend = level_covariance(fit.task.data.days, fit.task.data.days, prior=prior)[-1]
    shifts = []
    for other_s in (0.5 * recovery_s, recovery_s, 2.0 * recovery_s):
        mode = (fit if other_s == recovery_s else _with_recovery(fit, other_s)).points[0].mode
        off = mode.day_bpm - fit.task.minute_bpm
        level = fit.task.minute_bpm + trend @ mode.precision @ off
        top_s = float(np.exp(mode.log_shape[1])) if fit.task.law == "top rate" else 0.0
        curve = Curve(fit.task.law, float(level), float(np.exp(mode.log_shape[0])), top_s)
        minute_bpm, four_bpm = (curve.tempo_bpm(np.array([60.0, 240.0])) / factor).tolist()
        shifts.append(RecoveryShift(other_s, minute_bpm, four_bpm))
    return tuple(shifts)


def _weight_of(law: Law, weighed: _Weighed) -> float:
    return float(sum(weight for fit, weight in weighed if fit.task.law == law))


def _only(data: HandData, wanted: NDArray[np.bool_]) -> HandData:
    """The same days with fewer rounds."""
    names = ("tempo_bpm", "low_s", "high_s", "lapse_chance", "day_index", "own")
    return replace(data, **{name: getattr(data, name)[wanted] for name in names})


def _shape(law: Law, prior: Prior) -> Shape:
    mean = [log_steepness(law, prior), prior.log_top_s]
    sd = [prior.log_drop_sd, prior.log_top_sd]
    size = 2 if law == "top rate" else 1
    return Shape(np.array(mean[:size]), np.array(sd[:size]))


def _first_guess(data: HandData, prior: Prior) -> FloatArray:
    """A first guess of the days: between what was held to the end and what was lost."""
    on = np.isinf(data.high_s)
    held = data.tempo_bpm[on].max() if on.any() else data.tempo_bpm.min() - 10.0
    lost = data.tempo_bpm[~on].min() if (~on).any() else held + 10.0
    guess = 0.5 * (min(held, lost + 10.0) + lost)
    return np.full(len(data.days), 0.8 * guess + 0.2 * prior.minute_bpm)


def _shares(log_evidence: FloatArray) -> list[float]:
    shares = np.exp(log_evidence - log_evidence.max())
    return [float(share) for share in shares / shares.sum()]


def _day_forms(fit: LawFit, *, prior: Prior, factor: float) -> tuple[DayForm, ...]:
    """Trend and form of every day that was played, at the law's top point."""
    point, task = fit.points[0], fit.task
    mode, data = point.mode, task.data
    trend = level_covariance(data.days, data.days, prior=prior)
    pulled = mode.precision @ (mode.day_bpm - task.minute_bpm)
    spread = np.linalg.inv(mode.precision + np.diag(mode.weight))
    inner = mode.precision - mode.precision @ spread @ mode.precision
    level = task.minute_bpm + trend @ pulled
    level_sd = np.sqrt(np.maximum(np.diag(trend - trend @ inner @ trend), 0.0))
    form = point.form_bpm**2 * pulled
    form_sd = np.sqrt(np.maximum(point.form_bpm**2 - point.form_bpm**4 * np.diag(inner), 0.0))
    weight = np.maximum(mode.weight, _LEAST_WEIGHT)
    own = mode.day_bpm + mode.pull / weight
    own_sd = np.sqrt(1.0 / weight + point.form_bpm**2)
    return tuple(
        DayForm(
            data.first_day + timedelta(days=int(day)),
            _normal(level[place] / factor, level_sd[place] / factor),
            _normal(form[place] / factor, form_sd[place] / factor),
            float(own[place] / factor),
            float(own_sd[place] / factor),
        )
        for place, day in enumerate(data.days)
    )


def _normal(mean: float, sd: float) -> Interval:
    return Interval(float(mean), float(mean - _Z80 * sd), float(mean + _Z80 * sd))


def _notes_of(data: HandData) -> list[str]:
    """What the rounds cannot say, in sentences."""
    on = np.isinf(data.high_s)
    notes = []
    if len(on) < 10:
        notes.append(
            f"Only {_rounds(len(on))}: the answer leans on what is believed of anybody's hand."
        )
    if on.all():
        notes.append("Every round was held to its end: how much higher it goes is a guess.")
    if not on.any():
        notes.append("No round was held to its end: how much lower it begins is a guess.")
    return notes
