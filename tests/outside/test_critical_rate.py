"""Published fits of critical power and of the reserve above it, made with our curves.

The rates are watts and metres a second; our curves know no unit. That stroke rates have a critical
value is not shown by any of it.
"""

import numpy as np
import pytest

from loosehand.reach.laws import Curve
from loosehand.reach.reserve import reserve_after

CYCLING = (
    "R package cyclingtools (Mattioni), commit 8e0abaf, demo_critical_power; method of Mattioni "
    "Maturana, F., and others (2018), J. Sci. Med. Sport 21(7):742-747"
)
RUNNING = "R package cyclingtools (Mattioni), commit 8e0abaf, demo_critical_speed"
SWEATPY = "Python package sweatpy, tests/pdm/test_critical_power.py"
BALANCE = (
    "Skiba, P. F., and others (2012), Med. Sci. Sports Exerc. 44:1526-1532; differential form of "
    "Froncioni, Skiba and Clarke as in Python package sweat 0.25.0, pdm/w_prime_balance.py"
)
GAESSER = (
    "Gaesser, G. A., and others (1995), Med. Sci. Sports Exerc. 27:1430-1438 (pages from memory), "
    "abstract"
)
POWER_W = np.array([446.0, 385.0, 324.0, 290.0, 280.0])
TIME_S = np.array([100.0, 172.0, 434.0, 857.0, 1361.0])
DISTANCE_M = np.array([956.0, 1500.0, 3399.0])
RUN_S = np.array([180.0, 300.0, 720.0])


def curve(critical_rate, reserve, top_rate=None):
    """Return our curve of two or three parameters."""
    return Curve.from_critical_rate(critical_rate, reserve, top_rate=top_rate)


def time_on_rate(rate, *figures):
    """Return times of rates: the hyperbola, or with a top rate the law of three parameters."""
    return curve(*figures).time_s(rate)


def rate_on_time(time_s, *figures):
    """Return rates of times, a line in 1 / time."""
    return curve(*figures).tempo_bpm(time_s)


def work_on_time(time_s, *figures):
    """Return rate times time, a line in time."""
    return time_s * curve(*figures).tempo_bpm(time_s)


def fitted(law, at, values, start):
    """Return the figures of least squares, their standard errors and the share explained."""
    from scipy.optimize import curve_fit

    figures, covariance = curve_fit(law, at, values, p0=start, maxfev=20_000)
    left = np.sum((values - law(at, *figures)) ** 2)
    explained = 1.0 - left / np.sum((values - values.mean()) ** 2)
    return figures, np.sqrt(np.diag(covariance)), explained


POWER_FITS = {
    "work on time": (work_on_time, TIME_S, TIME_S * POWER_W, (250.0, 2e4)),
    "power on 1/time": (rate_on_time, TIME_S, POWER_W, (250.0, 2e4)),
    "time on power": (time_on_rate, POWER_W, TIME_S, (250.0, 2e4)),
    "time on power, top": (time_on_rate, POWER_W, TIME_S, (255.0, 2.5e4, 1000.0)),
}


@pytest.mark.published(
    source=CYCLING, locator="README, table of the four models: CP, W' and SE", kind="printed"
)
@pytest.mark.parametrize(
    ("fit", "figures", "errors", "explained"),
    [
        ("work on time", (266, 20961), ((3, 0.5), (2248, 0.5)), (0.99962, 5e-6)),
        ("power on 1/time", (274, 17784), ((6.2, 0.05), (1160, 0.5)), (0.987, 5e-4)),
        ("time on power", (262, 24174), ((1.6, 0.05), (1889, 0.5)), (0.997, 5e-4)),
        ("time on power, top", (260, 27410, 1004), ((3.1, 0.05), (4794, 0.5)), (0.998, 5e-4)),
    ],
)
def test_five_rides_give_the_printed_fits(fit, figures, errors, explained):
    """Critical power, reserve, top power, standard errors and R2 of five rides, as printed."""
    told, told_errors, told_explained = fitted(*POWER_FITS[fit])
    # A twentieth over half a digit: least squares of the printed rides gives 265.472 for the
    # printed 266, by numpy's line too (below), and 24174.52 for 24174.
    assert told == pytest.approx(figures, abs=0.55)
    for error, (printed, half_digit) in zip(told_errors, errors, strict=False):
        assert error == pytest.approx(printed, abs=half_digit)
    assert told_explained == pytest.approx(explained[0], abs=explained[1])


@pytest.mark.published(
    source="Python package numpy, polyfit of work on time and of power on 1/time",
    locator="the same five rides",
    kind="reference-run",
)
def test_the_linear_fits_are_those_of_a_plain_line():
    """Where a model is a line, its figures are slope and constant of an ordinary regression."""
    work = np.polyfit(TIME_S, TIME_S * POWER_W, 1)
    assert fitted(*POWER_FITS["work on time"])[0] == pytest.approx(work, rel=1e-6)
    power = np.polyfit(1.0 / TIME_S, POWER_W, 1)[::-1]
    assert fitted(*POWER_FITS["power on 1/time"])[0] == pytest.approx(power, rel=1e-6)


@pytest.mark.published(
    source=GAESSER,
    locator="critical power rises and W' falls: 3-parameter, 2-parameter, work-time, 1/time",
    kind="printed",
)
def test_the_models_stand_in_the_known_order():
    """From the law with a top to the line in 1/time, the rate rises and the reserve falls."""
    order = ("time on power, top", "time on power", "work on time", "power on 1/time")
    told = [fitted(*POWER_FITS[fit])[0] for fit in order]
    rates, reserves = [one[0] for one in told], [one[1] for one in told]
    assert rates == sorted(rates)
    assert reserves == sorted(reserves, reverse=True)


@pytest.mark.published(
    source=RUNNING, locator="README, critical speed of three runs, three models", kind="printed"
)
@pytest.mark.parametrize(
    ("law", "at", "values", "figures"),
    [
        (time_on_rate, DISTANCE_M / RUN_S, RUN_S, (4.52, 143)),
        (work_on_time, RUN_S, DISTANCE_M, (4.52, 142)),
        (rate_on_time, RUN_S, DISTANCE_M / RUN_S, (4.53, 142)),
    ],
)
def test_three_runs_give_the_printed_fits(law, at, values, figures):
    """Critical speed (m/s) and the distance above it (m) of three runs, as printed."""
    told, _, _ = fitted(law, at, values, (4.0, 150.0))
    assert told[0] == pytest.approx(figures[0], abs=0.005)
    assert told[1] == pytest.approx(figures[1], abs=0.5)


@pytest.mark.published(
    source=SWEATPY, locator="P = 10000 / t + 200 at t = 1, 11, ..., 1791 s", kind="analytic"
)
def test_rides_without_noise_give_the_planted_figures():
    """Both laws return a critical power of 200 and a reserve of 10,000; the top runs off."""
    from scipy.optimize import least_squares

    time_s = np.arange(1.0, 1800.0, 10.0)
    power_w = 10_000.0 / time_s + 200.0
    two, _, _ = fitted(time_on_rate, power_w, time_s, (190.0, 9e3))
    assert two == pytest.approx([200.0, 10_000.0], rel=1e-6)

    def misfit(figures):
        return curve(figures[0], figures[1], np.exp(figures[2])).time_s(power_w) - time_s

    start = (199.0, 9.9e3, np.log(2e5))
    three = least_squares(misfit, start, x_scale=(1.0, 100.0, 1.0), xtol=1e-12, ftol=1e-12).x
    assert three[:2] == pytest.approx([200.0, 10_000.0], rel=1e-4)
    assert np.exp(three[2]) > 1e6


@pytest.mark.published(
    source=CYCLING,
    locator="the 3-parameter form: t = W' / (P - CP) - W' / (Pmax - CP)",
    kind="printed",
)
def test_the_law_of_three_parameters_is_the_printed_form():
    """Our curve's times are those of the printed formula, and its top is held for no time."""
    ours = curve(260.0, 27_410.0, 1004.0)
    power_w = np.array([280.0, 324.0, 446.0, 900.0])
    formula_s = 27_410.0 / (power_w - 260.0) - 27_410.0 / (1004.0 - 260.0)
    assert ours.time_s(power_w) == pytest.approx(formula_s, rel=1e-9)
    assert float(ours.time_s(1004.0)) < 0.01
    assert ours.top_bpm == pytest.approx(1004.0)
    assert float(ours.time_s(260.0)) == np.inf


@pytest.mark.published(
    source=BALANCE,
    locator="CP 250 W, W' 20 kJ: 60 s at 350 W, then 120 s at 150 W; worked by us",
    kind="analytic",
)
def test_the_reserve_runs_down_and_comes_back():
    """A minute at 350 W leaves 14,000 J, two minutes at 150 W then bring it to 16,707.13 J."""
    rider = {"critical_rate": 250.0, "capacity": 20_000.0}
    left = reserve_after(20_000.0, rate=350.0, duration_s=60.0, **rider)
    assert left == pytest.approx(14_000.0, abs=0.5)
    back = reserve_after(left, rate=150.0, duration_s=120.0, **rider)
    assert back == pytest.approx(16_707.13, abs=0.005)


@pytest.mark.published(
    source=f"{BALANCE}; integrated by scipy.integrate.solve_ivp",
    locator="dW/dt = CP - P above CP, (CP - P) (W' - W) / W' under it",
    kind="reference-run",
)
def test_the_reserve_is_the_integral_of_its_rates():
    """Through six stretches at various rates ours equals the equation integrated numerically."""
    from scipy.integrate import solve_ivp

    critical, capacity = 95.0, 300.0
    ours = theirs = capacity

    def slope(_, reserve, rate):
        if rate >= critical:
            return critical - rate
        return (critical - rate) * (capacity - reserve) / capacity

    for rate, duration_s in ((100, 30), (0, 2), (90, 40), (95, 10), (105, 15), (60, 3)):
        ours = reserve_after(
            ours, rate=rate, critical_rate=critical, capacity=capacity, duration_s=duration_s
        )
        path = solve_ivp(slope, (0, duration_s), [theirs], args=(rate,), rtol=1e-10, atol=1e-9)
        theirs = float(path.y[0, -1])
        assert ours == pytest.approx(theirs, abs=1e-5)
