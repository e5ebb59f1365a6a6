"""What the tests of faults share."""

from datetime import UTC, datetime

import pytest


@pytest.fixture
def now_utc():
    """Return the moment of the tests."""
    return datetime(2027, 3, 1, 18, 30, tzinfo=UTC)
