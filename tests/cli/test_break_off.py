"""Checks of an interruption that nobody swallows."""

import signal
from concurrent.futures import ThreadPoolExecutor

import pytest

from loosehand.cli.break_off import breaking_off, step_by_step


@pytest.fixture(autouse=True)
def heeded():
    """Ctrl-C is heeded at first, even where the checks run in the background and ignore it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def swallowed():
    """Interrupt, and take it for something else."""
    try:
        signal.raise_signal(signal.SIGINT)
    except BaseException:
        return
    pytest.fail("Ctrl-C did not interrupt")


def in_two_steps(done, interrupt):
    """Do two steps, the first of them interrupted."""
    with breaking_off() as go_on:
        go_on()
        done.append("first")
        interrupt()
        go_on()
        done.append("second")


def test_what_was_swallowed_is_raised_between_the_steps():
    """The next step does not begin."""
    done = []
    with pytest.raises(KeyboardInterrupt):
        in_two_steps(done, swallowed)
    assert done == ["first"]


def test_what_was_swallowed_is_raised_at_the_end():
    """Even where there is no step to come."""
    with pytest.raises(KeyboardInterrupt), breaking_off():
        swallowed()


def test_an_interruption_comes_at_once():
    """As it does without it, and the handler from before is there again."""
    before, done = signal.getsignal(signal.SIGINT), []
    with pytest.raises(KeyboardInterrupt):
        in_two_steps(done, lambda: signal.raise_signal(signal.SIGINT))
    assert (done, signal.getsignal(signal.SIGINT)) == (["first"], before)


def test_nothing_is_raised_where_nothing_was():
    """Steps go on, in a thread of its own too, where no signal comes."""

    def steps():
        with breaking_off() as go_on:
            go_on()
            return "done"

    with ThreadPoolExecutor(1) as pool:
        assert (steps(), pool.submit(steps).result()) == ("done", "done")


def test_who_ignores_it_goes_on():
    """Started in the background, where Ctrl-C is another's, it stays so."""
    done, before = [], signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        in_two_steps(done, lambda: signal.raise_signal(signal.SIGINT))
    finally:
        signal.signal(signal.SIGINT, before)
    assert done == ["first", "second"]


def test_a_step_begins_only_if_nothing_was_swallowed():
    """A function of two words is called as it is, and no more after Ctrl-C."""
    answers = []

    def twice():
        with breaking_off() as go_on:
            step = step_by_step(divmod, go_on)
            answers.append(step(7, 2))
            swallowed()
            answers.append(step(9, 2))

    with pytest.raises(KeyboardInterrupt):
        twice()
    assert answers == [(3, 1)]
