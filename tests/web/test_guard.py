"""Checks of the guards."""

import pytest

from loosehand.web.guard import CONTENT_POLICY


def test_other_names_are_refused(client):
    """A name that is not this server's is refused: no other site can pretend to be it."""
    answer = client.get("/", headers={"host": "elsewhere.example"})
    assert answer.status_code == 403
    assert "does not answer to" in answer.text


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null"])
def test_other_sites_change_nothing(client, origin):
    """A change asked for by another site is refused."""
    answer = client.post("/", headers={"origin": origin})
    assert answer.status_code == 403


def test_policy_on_every_answer(client):
    """Every answer says that only this site's own files may run."""
    for path in ("/", "/nowhere", "/static/css/base.css"):
        assert client.get(path).headers["content-security-policy"] == CONTENT_POLICY
