"""Checks of the static files' addresses."""

from loosehand.web.assets import StaticUrls


def test_address_changes_with_the_file(tmp_path):
    """Another content, another address."""
    file = tmp_path / "a.css"
    file.write_text("one", "utf-8")
    first = StaticUrls(tmp_path).url("a.css")
    file.write_text("two", "utf-8")
    assert StaticUrls(tmp_path).url("a.css") != first
    assert first.startswith("/static/a.css?v=")


def test_static_files_may_be_kept_for_long(client):
    """A file under its full address may be kept for a year; pages are never kept."""
    assert "immutable" in client.get("/static/css/base.css?v=1").headers["cache-control"]
    assert client.get("/").headers["cache-control"] == "no-store"
