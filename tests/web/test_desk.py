"""Checks of what every page works with."""

from starlette.requests import Request

from loosehand.web.desk import desk_of, page


def request_to(client):
    """A request as the app would hand it on."""
    return Request({"type": "http", "app": client.app, "headers": [], "method": "GET", "path": "/"})


def test_a_request_finds_its_desk(client, studio):
    """The desk of a request is the one that the app was made with."""
    assert desk_of(request_to(client)).studio is studio


def test_a_page_shows_what_it_is_given_and_escapes_it(client):
    """Values stand in the page as text, never as markup; the status is the one asked for."""
    answer = page(
        request_to(client), "error.html", 409, sentence="<b>no</b>", title="That did not work"
    )
    assert answer.status_code == 409
    assert b"&lt;b&gt;no&lt;/b&gt;" in answer.body
