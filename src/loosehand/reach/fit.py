"""Fit a hand: from rounds to what it can hold."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from loosehand.reach.chosen_rounds import choose_rounds, notes_of_rounds
from loosehand.reach.draws import draw_posterior, draw_prior, level_covariance
from loosehand.reach.hand_data import HandData, hand_data
from loosehand.reach.held_out import held_out_scores
from loosehand.reach.laplace import curve_figures
from loosehand.reach.law_fits import (
    KnownLaw,
    Weighed,
    fit_laws,
    go_on,
    known_of,
    weigh,
    with_recovery,
)
from loosehand.reach.laws import LAWS, Curve, Law
from loosehand.reach.noises import LawFit
from loosehand.reach.prior import NOBODY_KNOWN, Prior
from loosehand.reach.reach import DayForm, Interval, LawScore, Reach, RecoveryShift
from loosehand.reach.reserve import RECOVERY_S
from loosehand.reach.seen import HandKind, RoundSeen, hand_rate_factor

__all__ = ["expect_of_nobody", "fit_hand", "refit_hand"]

FloatArray = NDArray[np.float64]
_DRAWS = 1000
_AHEAD_DAYS = 364
_LEAST_WEIGHT = 1e-4


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
        known=(),
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
    as_of : the day told of; later rounds are left out; where nothing was played for 60 days before
        it, the day 60 days after the last round is told of
    laws : which are weighed against each other
    prior : what is believed beforehand
    recovery_s : time constant with which the reserve comes back in rests; None where it is not
        known, and the prior of ``reserve`` is integrated over

    Raises
    ------
    NotIdentifiable   if there is no round of the kind up to the day
    """
    chosen = choose_rounds(rounds, kind=kind, as_of=as_of)
    data = hand_data(chosen.rounds, kind=kind)
    fits = fit_laws(data, laws=laws, prior=prior, recovery_s=recovery_s or RECOVERY_S[0])
    weighed = weigh(fits, data, recovery_s=recovery_s)
    scores = tuple(
        LawScore(
            fit.task.law,
            float(held_out_scores(fit.task, fit.points[0]).mean()),
            weighed.weight_of(fit.task.law),
        )
        for fit in fits
    )
    law = max(scores, key=lambda each: each.held_out_score).law
    best = next(fit for fit in fits if fit.task.law == law)
    recovery = _recovery_shifts(best, recovery_s or RECOVERY_S[0], prior=prior, kind=kind)
    as_of = chosen.told_of
    reach = _told(weighed, data, kind=kind, as_of=as_of, prior=prior, laws=scores, law=law)
    notes = (*chosen.notes, *notes_of_rounds(data))
    return replace(reach, recovery=recovery, recovery_is_told=weighed.recovery_is_told, notes=notes)


def refit_hand(
    reach: Reach, rounds: Sequence[RoundSeen], *, as_of: date, prior: Prior = NOBODY_KNOWN
) -> Reach:
    """Fit a hand again after a round or a few, from where it was: quicker, and nearly the same.

    The places of the noises, the scores of days kept apart and the words on recovery stay those of
    the last full fit; all else is told anew.

    Parameters
    ----------
    reach : fitted with the same prior, no recovery given, to all but the last of these rounds
    rounds, as_of, prior : as in ``fit_hand``

    Raises
    ------
    NotIdentifiable   if there is no round of the kind up to the day
    """
    chosen = choose_rounds(rounds, kind=reach.kind, as_of=as_of)
    data = hand_data(chosen.rounds, kind=reach.kind)
    known = [_on_days(each, reach.days, data) for each in reach.known]
    fits = go_on(data, known=known, prior=prior, recovery_s=RECOVERY_S[0])
    weighed = weigh(fits, data, recovery_s=None)
    laws = tuple(replace(each, weight=weighed.weight_of(each.law)) for each in reach.laws)
    again = _told(
        weighed,
        data,
        kind=reach.kind,
        as_of=chosen.told_of,
        prior=prior,
        laws=laws,
        law=reach.law,
    )
    return replace(
        again,
        recovery=reach.recovery,
        recovery_is_told=reach.recovery_is_told,
        notes=(*chosen.notes, *notes_of_rounds(data)),
    )


def _on_days(known: KnownLaw, days: Sequence[DayForm], data: HandData) -> KnownLaw:
    """Where a law was found, for the days of new data: a new day begins as the one before."""
    found = dict(zip([each.day for each in days], known.day_bpm.tolist(), strict=True))
    day_bpm, last_bpm = [], known.day_bpm[0]
    for day in data.days:
        last_bpm = found.get(data.first_day + timedelta(days=int(day)), last_bpm)
        day_bpm.append(last_bpm)
    return replace(known, day_bpm=np.array(day_bpm))


def _told(
    weighed: Weighed,
    data: HandData,
    *,
    kind: HandKind,
    as_of: date,
    prior: Prior,
    laws: tuple[LawScore, ...],
    law: Law,
) -> Reach:
    """Tell what is known, but for recovery and notes."""
    as_of_day = float((as_of - data.first_day).days)
    factor = hand_rate_factor(kind)
    best = next(fit for fit in weighed.usual if fit.task.law == law)
    return Reach(
        kind=kind,
        as_of=as_of,
        first_day=data.first_day,
        last_day=data.last_day,
        rounds=len(data.tempo_bpm),
        law=law,
        laws=laws,
        days=_day_forms(best, prior=prior, factor=factor),
        longest_held_s=float(data.low_s.max()),
        highest_seen_bpm=float(data.tempo_bpm.max() / factor),
        recovery=(),
        recovery_is_told=False,
        notes=(),
        draws=draw_posterior(
            list(zip(weighed.fits, weighed.weights, strict=True)),
            prior=prior,
            grid_day=_grid(int(as_of_day)),
            as_of_day=as_of_day,
            draws=_DRAWS,
        ),
        known=known_of(weighed),
    )


def _grid(days_back: int) -> FloatArray:
    """Days of the draws' levels: weekly behind, fortnightly ahead."""
    back = max(days_back, 28)
    behind = np.unique([*range(-28, 1, 7), *range(-back, 1, 7), -back])
    return np.array([*behind, *range(14, _AHEAD_DAYS + 1, 14)], dtype=float)


def _recovery_shifts(
    fit: LawFit, recovery_s: float, *, prior: Prior, kind: HandKind
) -> tuple[RecoveryShift, ...]:
    """How the most probable curve of the last day moves with the time of recovery."""
    trend = level_covariance(fit.task.data.days, fit.task.data.days, prior=prior)[-1]
    factor = hand_rate_factor(kind)
    shifts = []
    for other_s in (0.5 * recovery_s, recovery_s, 2.0 * recovery_s):
        mode = (fit if other_s == recovery_s else with_recovery(fit, other_s)).points[0].mode
        off = mode.day_bpm - fit.task.minute_bpm
        level = fit.task.minute_bpm + trend @ mode.precision @ off
        curve = Curve(fit.task.law, float(level), *curve_figures(mode.log_shape))
        minute_bpm, four_bpm = (curve.tempo_bpm(np.array([60.0, 240.0])) / factor).tolist()
        shifts.append(RecoveryShift(other_s, minute_bpm, four_bpm))
    return tuple(shifts)


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
            Interval.of_normal(level[place] / factor, level_sd[place] / factor),
            Interval.of_normal(form[place] / factor, form_sd[place] / factor),
            float(own[place] / factor),
            float(own_sd[place] / factor),
        )
        for place, day in enumerate(data.days)
    )
