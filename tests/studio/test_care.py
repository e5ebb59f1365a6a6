"""The cautions."""

import pytest

from loosehand.studio.care import CARE, CARE_SHORT


@pytest.mark.parametrize("text", [CARE, CARE_SHORT])
def test_the_cautions_say_what_they_must(text):
    """Every caution says what means stop, and that it is no medical advice."""
    for word in ("Pain", "tingling", "numbness", "weakness", "means stop", "not medical advice"):
        assert word in text


def test_the_full_caution_defers_to_a_clinician():
    """What comes back, or is there at rest, is for a clinician; a child tells its parents."""
    for word in ("clinician", "comes back", "at rest", "parent or guardian", "days off"):
        assert word in CARE
