"""The parts to begin from can be played, and are called what they are called."""

import pytest

from loosehand.parts.text import parse_part, write_part
from loosehand.studio.part_examples import EXAMPLE_TUNE, EXAMPLES


@pytest.mark.parametrize("title", EXAMPLES)
def test_an_example_can_be_played(title):
    """Four limbs can play it, and its title is its name."""
    part = parse_part(EXAMPLES[title])
    assert part.title == title
    assert parse_part(write_part(part)) == part


def test_the_first_is_a_whole_tune():
    """What is offered first has sections that repeat."""
    assert next(iter(EXAMPLES.values())) == EXAMPLE_TUNE
    part = parse_part(EXAMPLE_TUNE)
    assert sum(len(section.bars) * section.times for section in part.sections) == 51


def test_one_is_empty_to_begin_from_nothing():
    """A bar with a line for three limbs, in which nobody plays yet."""
    (section,) = parse_part(EXAMPLES["An empty bar"]).sections
    assert [bar.strokes for bar in section.bars] == [()]
    assert list(EXAMPLES)[-1] == "An empty bar"
