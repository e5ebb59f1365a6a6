"""Published regressions of censored times, made with our likelihood of intervals.

Ours knows intervals alone, so an exact time is a narrow interval, and the log of its width is taken
from the log likelihood. The logarithm of a time (or the value itself, where so said) is normal.
"""

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from loosehand.reach.interval_likelihood import interval_chance

SURVIVAL = "R package survival (Therneau), commit a2533a9, output committed by its author"
MOTORETTES = "Crawford (1970), Nelson and Hahn (1972): motorettes"
ESCOBAR = "Escobar, L. A., Meeker, W. Q. (1992), Biometrics; Stanford transplants of 1980"
SCHMEE = "Schmee, J., Hahn, G. J. (1979), Technometrics 21:417-432, from memory"
TOBIN = "Tobin, J. (1958), Econometrica 26:24-36 (pages from memory)"
LIFELINES = "Python package lifelines 0.30.3, LogNormalAFTFitter"
NARROW = 1e-4
# Degrees Celsius, hours of the failed, hours and number of those that ran on.
MOTORS = (
    (150, (), 8064, 10),
    (170, (1764, 2772, 3444, 3542, 3780, 4860, 5196), 5448, 3),
    (190, (408, 408, 1344, 1344, 1440), 1680, 5),
    (220, (408, 408, 504, 504, 504), 528, 5),
)

# Durables bought, age, liquidity times 1,000: as in the R package's table tobin.
HOUSEHOLDS = (
    (0.0, 57.7, 236), (0.7, 50.9, 283), (0.0, 48.5, 207), (0.0, 41.7, 220), (0.0, 47.7, 238),
    (0.0, 59.8, 216), (0.0, 44.3, 284), (3.7, 45.1, 221), (0.0, 51.7, 275), (3.0, 50.0, 269),
    (10.4, 46.8, 207), (0.0, 58.0, 249), (0.0, 58.9, 246), (0.0, 40.0, 277), (1.5, 34.1, 231),
    (0.0, 39.9, 219), (0.0, 33.4, 240), (3.5, 48.1, 266), (6.1, 46.6, 214), (0.0, 53.1, 251),
)  # fmt: skip
# Days, whether the patient died, age in years: as in the R package's table stanford2.
TRANSPLANTS = Path(__file__).parent / "transplants_1980.csv"


@dataclass(frozen=True)
class Fit:
    """A regression: coefficients then log scale, standard errors, covariance, log likelihood."""

    figures: np.ndarray
    errors: np.ndarray
    covariance: np.ndarray
    log_likelihood: float


def fitted(low, high, design):
    """Fit a normal regression to intervals, by our likelihood and its derivatives."""
    from scipy.optimize import minimize

    # Each column is scaled, so that the search sees figures of one size.
    size = np.maximum(np.abs(design).max(axis=0), 1e-9)
    scaled = design / size
    none = np.zeros(low.size)

    def told(figures):
        scale = math.exp(figures[-1])
        z_low = (scaled @ figures[:-1] - low) / scale
        z_high = (scaled @ figures[:-1] - high) / scale
        chance = interval_chance(z_low, z_high, lapse_share=0.0, lapse_chance=none)
        by_middle = (chance.by_low + chance.by_high) / scale
        by_scale = -(
            chance.by_low * np.where(np.isfinite(z_low), z_low, 0.0)
            + chance.by_high * np.where(np.isfinite(z_high), z_high, 0.0)
        )
        slope = np.append(scaled.T @ by_middle, by_scale.sum())
        return -chance.log_chance.sum(), -slope

    middle = np.where(np.isfinite(low), np.where(np.isfinite(high), high, low), high)
    start = np.linalg.lstsq(scaled, middle, rcond=None)[0]
    begin = np.append(start, math.log(np.std(middle - scaled @ start) + 1e-3))
    found = minimize(told, begin, jac=True, method="BFGS", options={"gtol": 1e-7}).x
    covariance = np.linalg.inv(_bend(lambda figures: told(figures)[1], found))
    back = np.append(1.0 / size, 1.0)
    covariance = covariance * np.outer(back, back)
    exact = np.isfinite(low) & np.isfinite(high) & (high - low < 2.0 * NARROW)
    log_likelihood = -told(found)[0] - np.log(high[exact] - low[exact]).sum()
    return Fit(found * back, np.sqrt(np.diag(covariance)), covariance, float(log_likelihood))


def _bend(slope, at, step=1e-4):
    """Return second derivatives from first ones, by central differences."""
    rows = [
        (slope(at + step * one) - slope(at - step * one)) / (2.0 * step) for one in np.eye(at.size)
    ]
    return 0.5 * (np.array(rows) + np.array(rows).T)


def around(value, is_exact):
    """Return bounds: narrow ones around what is exact, none above what went on."""
    return (
        np.where(is_exact, value - NARROW / 2.0, value),
        np.where(is_exact, value + NARROW / 2.0, np.inf),
    )


def motors(least_celsius):
    """Return temperature, hours and whether each motorette failed."""
    rows = [
        (celsius, hours, failed)
        for celsius, failures, last, running in MOTORS
        if celsius >= least_celsius
        for hours, failed in [*((one, True) for one in failures), *[(last, False)] * running]
    ]
    return (np.array(column) for column in zip(*rows, strict=True))


def arrhenius(least_celsius, log):
    """Return the fit of log hours on 1000 / kelvin, and its log likelihood in hours."""
    celsius, hours, failed = motors(least_celsius)
    kelvin = 1000.0 / (273.2 + celsius)
    fit = fitted(*around(log(hours), failed), np.stack([np.ones(kelvin.size), kelvin], axis=1))
    return fit, fit.log_likelihood - np.log(hours[failed]).sum()


@pytest.mark.published(
    source=f"{MOTORETTES}; {SURVIVAL}", locator="tests/r_sas.Rout.save, T > 150", kind="printed"
)
def test_motorettes_give_the_printed_regression():
    """Coefficients, standard errors, log scale and log likelihood of 30 motorettes, as printed."""
    fit, log_likelihood = arrhenius(160, np.log)
    assert fit.figures == pytest.approx([-10.471, 8.322, -0.504], abs=5e-4)
    assert fit.errors == pytest.approx([2.772, 1.284, 0.183], abs=5e-4)
    assert math.exp(fit.figures[2]) == pytest.approx(0.604, abs=5e-4)
    assert log_likelihood == pytest.approx(-145.9, abs=0.05)


@pytest.mark.published(
    source=f"{MOTORETTES}; {SURVIVAL}",
    locator="tests/r_sas.Rout.save, quantiles 0.1, 0.5, 0.9 at 130 and 150 C",
    kind="printed",
)
@pytest.mark.parametrize(
    ("celsius", "quantiles_h"),
    [(130.0, (12033.185, 26095.677, 56592.20)), (150.0, (4536.877, 9838.864, 21336.98))],
)
def test_motorettes_give_the_printed_quantiles(celsius, quantiles_h):
    """Hours that a tenth, half and nine tenths do not outlast, far below the tested heat."""
    fit, _ = arrhenius(160, np.log)
    row = np.array([1.0, 1000.0 / (273.2 + celsius)])
    spread = 1.2815515655446004 * math.exp(fit.figures[2])
    ours = np.exp(row @ fit.figures[:2] + spread * np.array([-1.0, 0.0, 1.0]))
    # To five digits: ours is a search, and an exact time is a narrow interval.
    assert ours == pytest.approx(quantiles_h, rel=2e-5)
    if celsius == 130.0:
        error_h = ours[1] * math.sqrt(row @ fit.covariance[:2, :2] @ row)
        assert error_h == pytest.approx(11359.45, rel=2e-4)


@pytest.mark.published(
    source=SCHMEE, locator="all 40 motorettes, log10 hours on 1000 / kelvin", kind="from-memory"
)
def test_all_motorettes_on_common_logarithms():
    """With the 40 motorettes, those that never failed at 150 C too, the known figures return."""
    fit, _ = arrhenius(150, np.log10)
    assert fit.figures[:2] == pytest.approx([-6.019, 4.311], abs=5e-4)
    assert math.exp(fit.figures[2]) == pytest.approx(0.2592, abs=5e-5)


@pytest.mark.published(
    source=f"{ESCOBAR}; {SURVIVAL}", locator="tests/r_stanford.Rout.save", kind="printed"
)
def test_transplants_give_the_printed_regression():
    """Log-normal survival of 184 patients on age and its square, and without age, as printed."""
    table = np.loadtxt(TRANSPLANTS, delimiter=",", skiprows=1)
    days, died = np.maximum(table[:, 0], 0.5), table[:, 1] == 1
    age = table[:, 2] - table[:, 2].mean()
    bounds, one = around(np.log(days), died), np.ones(days.size)
    fit = fitted(*bounds, np.stack([one, age, age**2], axis=1))
    inner = np.log(days[died]).sum()
    printed = [6.717591081, -0.061908619, -0.003504315]
    assert fit.figures[:3] == pytest.approx(printed, rel=2e-5)
    assert math.exp(fit.figures[3]) == pytest.approx(2.362872, rel=2e-6)
    assert fit.log_likelihood - inner == pytest.approx(-863.6, abs=0.05)
    without = fitted(*bounds, one[:, None])
    assert without.log_likelihood - inner == pytest.approx(-868.8, abs=0.05)
    gained = 2.0 * (fit.log_likelihood - without.log_likelihood)
    assert gained == pytest.approx(10.5, abs=0.05)


@pytest.mark.published(
    source=f"{TOBIN}; {SURVIVAL}",
    locator="survival-Ex.Rout.save, predictions 1 to 3 of the left-censored regression",
    kind="printed",
)
def test_purchases_that_are_cut_off_below_give_the_printed_predictions():
    """Twenty households, those without a purchase known only as at or under nought."""
    durable, age, quant = np.array(HOUSEHOLDS).T
    bought = durable > 0.0
    low = np.where(bought, durable - NARROW / 2.0, -np.inf)
    high = np.where(bought, durable + NARROW / 2.0, 0.0)
    design = np.stack([np.ones(durable.size), age, quant], axis=1)
    fit = fitted(low, high, design)
    printed = [-3.04968679, -4.31254182, -0.54163315]
    assert design[:3] @ fit.figures[:3] == pytest.approx(printed, abs=2e-5)
    assert fit.log_likelihood == pytest.approx(-28.940133, abs=1e-5)


@pytest.mark.published(
    source=LIFELINES,
    locator="fit_interval_censoring on its open table of 731 diabetics, by gender",
    kind="reference-run",
)
def test_intervals_are_fitted_as_another_program_fits_them():
    """Coefficients, errors and log likelihood of left, right and interval-censored times agree."""
    from lifelines import LogNormalAFTFitter
    from lifelines.datasets import load_diabetes

    table = load_diabetes()
    table["is_male"] = (table.pop("gender") == "male").astype(float)
    # Ours has no point times: what both bounds name alike is half a year to either side.
    same = table["left"] == table["right"]
    table["left"] = table["left"].astype(float) - np.where(same, 0.5, 0.0)
    table["right"] = table["right"].astype(float) + np.where(same, 0.5, 0.0)
    # lifelines cannot begin from times at or under nought; ours takes them as no lower bound.
    theirs = LogNormalAFTFitter().fit_interval_censoring(
        table.assign(left=np.maximum(table["left"], 0.01)), "left", "right"
    )
    left, right = table["left"].to_numpy(), table["right"].to_numpy()
    low = np.where(left > 0.0, np.log(np.maximum(left, 1e-300)), -np.inf)
    ours = fitted(low, np.log(right), np.stack([np.ones(len(table)), table["is_male"]], axis=1))
    _agree(ours, theirs, ["is_male"])


@pytest.mark.published(
    source=LIFELINES,
    locator="fit_right_censoring on its open table of 432 released prisoners",
    kind="reference-run",
)
def test_right_censored_times_are_fitted_as_another_program_fits_them():
    """Coefficients, errors and log likelihood of a regression on three figures agree."""
    from lifelines import LogNormalAFTFitter
    from lifelines.datasets import load_rossi

    names = ["fin", "age", "prio"]
    table = load_rossi()[["week", "arrest", *names]]
    theirs = LogNormalAFTFitter().fit_right_censoring(table, "week", "arrest")
    weeks, arrested = table["week"].to_numpy(float), table["arrest"].to_numpy() == 1
    design = np.stack([np.ones(weeks.size), *(table[name] for name in names)], axis=1)
    ours = fitted(*around(np.log(weeks), arrested), design)
    _agree(ours, theirs, names, inner=np.log(weeks[arrested]).sum())


def _agree(ours, theirs, names, inner=0.0):
    """Assert that a fit of ours and one of lifelines are the same, to four digits."""
    rows = [("mu_", "Intercept"), *(("mu_", name) for name in names), ("sigma_", "Intercept")]
    assert ours.figures == pytest.approx([theirs.params_[row] for row in rows], abs=2e-4)
    assert ours.errors == pytest.approx([theirs.standard_errors_[row] for row in rows], rel=1e-3)
    assert ours.log_likelihood - inner == pytest.approx(theirs.log_likelihood_, abs=1e-3)
