"""Checks of the HTTP statuses."""

import pytest

from loosehand.errors import BadTempo, Conflict, DiskFull, NotFound, UnreadableAudio
from loosehand.web.statuses import http_status


@pytest.mark.parametrize(
    ("error", "status"),
    [(BadTempo, 422), (UnreadableAudio, 415), (NotFound, 404), (Conflict, 409), (DiskFull, 503)],
)
def test_each_error_has_its_status(error, status):
    """An error is answered with the status of its kind."""
    assert http_status(error("why")) == status
