"""Fit every law to a hand's rounds, with what rests give back, and weigh them.

Which law holds and how fast the reserve comes back are told together: in a ladder, which always
rises, tiring and tempo cannot be told apart, and there the recovery keeps its prior.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loosehand.reach.draws import level_covariance
from loosehand.reach.hand_data import HandData, fresh_bounds_s, order_varies
from loosehand.reach.laplace import Mode, Shape, Task, curve_figures, find_mode, log_chance, margins
from loosehand.reach.laws import LAWS, Law
from loosehand.reach.margin import Noise
from loosehand.reach.noises import LawFit, Start, fit_law, fit_law_at
from loosehand.reach.prior import Prior, log_steepness
from loosehand.reach.reserve import RECOVERY_S, RECOVERY_SHARES

__all__ = ["KnownLaw", "Weighed", "fit_laws", "go_on", "known_of", "weigh", "with_recovery"]

FloatArray = NDArray[np.float64]
_SURE_Z = 4.5
_SLIGHT = 1e-3
_REFRESHES = 2
_LEVELS_BPM = np.arange(16.0, 221.0, 6.0)
_ROUNDS_ENOUGH = 150
_LEVEL_SD_BPM = 30.0
"""Wider than the prior of the level: the climb begins where the rounds are, not where they ought
to be."""


@dataclass(frozen=True)
class Weighed:
    """Fits with their weights.

    Attributes
    ----------
    fits : of laws and recoveries
    weights : of each, which sum to 1
    usual : the fits at the usual recovery, by law
    recovery_is_told : whether the order of the rounds tells of the recovery
    """

    fits: tuple[LawFit, ...]
    weights: tuple[float, ...]
    usual: tuple[LawFit, ...]
    recovery_is_told: bool

    def weight_of(self, law: Law) -> float:
        """Weight of a law, whatever the recovery."""
        pairs = zip(self.fits, self.weights, strict=True)
        return float(sum(weight for fit, weight in pairs if fit.task.law == law))


@dataclass(frozen=True)
class KnownLaw:
    """Where a law was found, to go on from.

    Attributes
    ----------
    law : which
    places : float array, shape (p, 3), of the design: logs of the spreads, the top first
    log_widths : log of the volume of the design's axes
    day_bpm : float array, shape (d,), most probable tempo for a minute on each day, at the top
    log_shape : float array, shape (k,), most probable shape there
    weight : of the law in the answers
    """

    law: Law
    places: FloatArray
    log_widths: float
    day_bpm: FloatArray
    log_shape: FloatArray
    weight: float


def fit_laws(
    data: HandData, *, laws: Sequence[Law], prior: Prior, recovery_s: float
) -> list[LawFit]:
    """Fit every law, the likeliest at first sight first; the others begin where it ended.

    Parameters
    ----------
    data : rounds of one kind
    laws : which
    prior : what is believed beforehand
    recovery_s : time constant of recovery
    """
    spreads = np.array([prior.log_form_bpm, prior.log_tempo_noise_bpm, prior.log_time_noise])
    seen: list[tuple[Task, Mode]] = []
    for task in _tasks(data, laws=laws, prior=prior):
        day = _first_guess(task, spreads)
        seen.append(_told_apart(task, Start(day, task.shape.mean, spreads), recovery_s))
    seen.sort(key=lambda each: -each[1].log_evidence)
    fits: list[LawFit] = []
    for task, mode in seen:
        known = max(fits, key=lambda fit: fit.top_height) if fits else None
        start = Start(mode.day_bpm, mode.log_shape, spreads)
        fits.append(fit_law(task, prior=prior, start=start, known=known))
    return sorted(fits, key=lambda fit: LAWS.index(fit.task.law))


def go_on(
    data: HandData, *, known: Sequence[KnownLaw], prior: Prior, recovery_s: float
) -> list[LawFit]:
    """Fit the laws again to a few more rounds, at the places of the noises where they were found.

    Parameters
    ----------
    data : rounds of one kind, those that the laws were fitted to among them
    known : where the laws were found, its days those of ``data``
    prior, recovery_s : as in ``fit_laws``
    """
    fits = []
    tasks = _tasks(data, laws=[each.law for each in known], prior=prior)
    for task, each in zip(tasks, known, strict=True):
        start = Start(each.day_bpm, each.log_shape, each.places[0])
        told = _telling(_refreshed(task, start, recovery_s), start)
        fits.append(
            fit_law_at(
                told,
                prior=prior,
                start=start,
                places=each.places,
                log_widths=each.log_widths,
                top_alone=each.weight <= _SLIGHT,
            )
        )
    return fits


def known_of(weighed: Weighed) -> tuple[KnownLaw, ...]:
    """Where the laws were found."""
    return tuple(
        KnownLaw(
            law=fit.task.law,
            places=fit.places,
            log_widths=fit.log_widths,
            day_bpm=fit.points[0].mode.day_bpm,
            log_shape=fit.points[0].mode.log_shape,
            weight=weighed.weight_of(fit.task.law),
        )
        for fit in weighed.usual
    )


def weigh(fits: Sequence[LawFit], data: HandData, *, recovery_s: float | None) -> Weighed:
    """Weigh laws by their evidence, and recoveries where they are not given.

    Recoveries are weighed by evidence only where the order of the rounds varies; else the prior of
    ``reserve`` stays as it was.

    Parameters
    ----------
    fits : at the recovery that is given, or at the usual one
    data : the rounds
    recovery_s : the recovery that is given, or None
    """
    usual = tuple(fits)
    if recovery_s is not None:
        given = tuple(_shares([fit.log_evidence for fit in fits]))
        return Weighed(usual, given, usual, recovery_is_told=False)
    shares = _shares([fit.log_evidence for fit in fits])
    likely = [fit for fit, share in zip(fits, shares, strict=True) if share > _SLIGHT]
    every = [(list(fits), RECOVERY_SHARES[0])]
    for other_s, share in zip(RECOVERY_S[1:], RECOVERY_SHARES[1:], strict=True):
        every.append(([with_recovery(fit, other_s) for fit in likely], share))
    flat = tuple(fit for some, _ in every for fit in some)
    if order_varies(data):
        heights = [fit.log_evidence + np.log(share) for some, share in every for fit in some]
        return Weighed(flat, tuple(_shares(heights)), usual, recovery_is_told=True)
    weights = [
        share * weight
        for some, share in every
        for weight in _shares([fit.log_evidence for fit in some])
    ]
    return Weighed(flat, tuple(weights), usual, recovery_is_told=False)


def with_recovery(fit: LawFit, recovery_s: float) -> LawFit:
    """The law at its top point's noises, with another recovery."""
    top = fit.points[0]
    task, mode = fit.task, top.mode
    for _ in range(_REFRESHES):
        start = Start(mode.day_bpm, mode.log_shape, fit.log_spreads)
        task = _refreshed(task, start, recovery_s)
        mode = _mode(task, start)
    gained = mode.log_evidence - top.mode.log_evidence
    return replace(
        fit,
        task=task,
        points=(replace(top, weight=1.0, mode=mode),),
        log_evidence=fit.log_evidence + gained,
    )


def _tasks(data: HandData, *, laws: Sequence[Law], prior: Prior) -> list[Task]:
    """What is fitted, law by law, of a hand that is always fresh."""
    values, vectors = np.linalg.eigh(level_covariance(data.days, data.days, prior=prior))
    values = np.maximum(values, 0.0)
    return [
        Task(
            data,
            law,
            data.low_s,
            data.high_s,
            prior.minute_bpm,
            values,
            vectors,
            _shape(law, prior),
        )
        for law in laws
    ]


def _told_apart(task: Task, start: Start, recovery_s: float) -> tuple[Task, Mode]:
    """Set the bounds of a fresh hand, and leave out rounds that tell nothing."""
    mode = _mode(task, start)
    for _ in range(_REFRESHES):
        start = Start(mode.day_bpm, mode.log_shape, start.log_spreads)
        task = _refreshed(task, start, recovery_s)
        mode = _mode(task, start)
    return _telling(task, Start(mode.day_bpm, mode.log_shape, start.log_spreads)), mode


def _mode(task: Task, start: Start) -> Mode:
    """Mode at the noises of a start."""
    return find_mode(
        task,
        noise=_noise(start),
        form_bpm=float(np.exp(start.log_spreads[0])),
        day_bpm=start.day_bpm,
        log_shape=start.log_shape,
    )


def _noise(start: Start) -> Noise:
    return Noise(*np.exp(start.log_spreads[1:]).tolist())


def _telling(task: Task, start: Start) -> Task:
    """The task without rounds that were so easy that they tell nothing."""
    minute_bpm = start.day_bpm[task.data.day_index]
    low, _ = margins(task, _noise(start), minute_bpm=minute_bpm, log_shape=start.log_shape)
    return _only(task, np.nonzero(~(np.isinf(task.high_s) & (low.z > _SURE_Z)))[0])


def _only(task: Task, places: NDArray[np.int64]) -> Task:
    """The task with some of its rounds, all its days."""
    names = ("tempo_bpm", "low_s", "high_s", "lapse_chance", "day_index", "own")
    data = replace(task.data, **{name: getattr(task.data, name)[places] for name in names})
    return replace(task, data=data, low_s=task.low_s[places], high_s=task.high_s[places])


def _refreshed(task: Task, start: Start, recovery_s: float) -> Task:
    """The task with the bounds that a fresh hand would have, by the curve of a start."""
    steepness_bpm, top_s = curve_figures(start.log_shape)
    low_s, high_s = fresh_bounds_s(
        task.data,
        law=task.law,
        minute_bpm=start.day_bpm,
        steepness_bpm=steepness_bpm,
        top_s=top_s,
        recovery_s=recovery_s,
    )
    return replace(task, low_s=low_s, high_s=high_s)


def _shape(law: Law, prior: Prior) -> Shape:
    mean = [log_steepness(law, prior), prior.log_top_s]
    sd = [prior.log_drop_sd, prior.log_top_sd]
    size = 2 if law == "top rate" else 1
    return Shape(np.array(mean[:size]), np.array(sd[:size]))


def _first_guess(task: Task, log_spreads: FloatArray) -> FloatArray:
    """The likeliest of some levels, the same on all days.

    Far from it every round looks like a slip, and there is no slope that a climb could follow.
    """
    noise = _noise(Start(task.shape.mean, task.shape.mean, log_spreads))
    step = max(len(task.low_s) // _ROUNDS_ENOUGH, 1)
    some = _only(task, np.arange(0, len(task.low_s), step))
    heights = []
    for level in _LEVELS_BPM:
        minute_bpm = np.full(len(some.low_s), level)
        off = (level - task.minute_bpm) / _LEVEL_SD_BPM
        chance = log_chance(some, noise, minute_bpm=minute_bpm, log_shape=task.shape.mean)
        heights.append(chance - 0.5 * off**2)
    return np.full(len(task.data.days), _LEVELS_BPM[int(np.argmax(heights))])


def _shares(log_evidence: Sequence[float]) -> list[float]:
    heights = np.array(log_evidence)
    shares = np.exp(heights - heights.max())
    return [float(share) for share in shares / shares.sum()]
