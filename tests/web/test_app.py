"""Checks of the app as a whole: its guards and how it says no."""


def test_first_page_opens(client):
    """The first page shows the players."""
    answer = client.get("/")
    assert answer.status_code == 200
    assert "Nerys" in answer.text


def test_no_such_page(client):
    """An address that leads nowhere is said in a sentence."""
    answer = client.get("/nowhere")
    assert answer.status_code == 404
    assert "There is no such page here" in answer.text
