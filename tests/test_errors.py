"""The errors that are raised on purpose, and what they make the command line answer."""

import pytest

from loosehand import errors


def error_classes():
    """Return every error class of the module."""
    members = (getattr(errors, name) for name in errors.__all__)
    return [member for member in members if isinstance(member, type)]


@pytest.mark.parametrize("kind", error_classes(), ids=lambda kind: kind.__name__)
def test_every_error_has_one_root(kind):
    """Whatever is raised on purpose can be caught as one."""
    assert issubclass(kind, errors.LoosehandError)


@pytest.mark.parametrize("kind", error_classes(), ids=lambda kind: kind.__name__)
def test_every_error_stands_in_the_list_at_the_head(kind):
    """The list at the head of the module names every error."""
    assert kind.__name__ in errors.__doc__


@pytest.mark.parametrize(
    ("kind", "status"),
    [
        (errors.BadTempo, 2),
        (errors.TooFewStrokes, 0),
        (errors.UnreadableAudio, 3),
        (errors.UnsupportedMidi, 3),
        (errors.StudioLocked, 2),
        (errors.LoosehandError, 2),
    ],
)
def test_exit_status_follows_the_kind(kind, status):
    """An error's family decides the exit status."""
    assert errors.exit_status(kind("said in one sentence")) == status


def test_bad_input_is_a_value_error_too():
    """Callers of the library may catch bad input as ValueError."""
    with pytest.raises(ValueError, match="tempo_bpm = 0"):
        raise errors.BadTempo("tempo_bpm = 0 is no tempo")
