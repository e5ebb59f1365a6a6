"""The documents: what they link to is there, and what must be in them is."""

import re

import pytest

from loosehand import errors
from tests.project_files import ROOT, relative, tracked_files

LINK = re.compile(r"\]\(([^)\s]+)\)")
PICTURE = re.compile(r"!\[([^\]]*)\]\(([^)\s]+)\)")
HEADING = re.compile(r"^#+ (.+)$", re.MULTILINE)
GLOSSARY_ROW = re.compile(r"^\| ([^|]+?) \| ([^|]+?) \|$", re.MULTILINE)
DOCUMENTS = [path for path in tracked_files() if path.suffix == ".md"]


def anchors(path):
    """Return the anchors of a document's headings."""
    titles = HEADING.findall(path.read_text(encoding="utf-8"))
    return {re.sub(r"[^\w -]", "", title.lower()).replace(" ", "-") for title in titles}


@pytest.mark.parametrize("document", DOCUMENTS, ids=relative)
def test_every_link_leads_somewhere(document):
    """A link inside the project leads to a file that is there, and to a heading in it."""
    broken = []
    for link in LINK.findall(document.read_text(encoding="utf-8")):
        if "://" in link:
            continue
        name, _, anchor = link.partition("#")
        target = (document.parent / name).resolve() if name else document
        if not target.exists() or (anchor and anchor not in anchors(target)):
            broken.append(link)
    assert broken == []


def test_the_readme_leads_to_every_document():
    """Every document in docs is reached from the README."""
    links = LINK.findall((ROOT / "README.md").read_text(encoding="utf-8"))
    reached = {(ROOT / link).resolve() for link in links}
    pages = {path for path in DOCUMENTS if path.parent == ROOT / "docs"}
    assert sorted(relative(page) for page in pages - reached) == []


def test_every_picture_is_shown_and_small():
    """Each picture stands in a document, with words, and none is large."""
    shown = {
        (document.parent / link).resolve()
        for document in DOCUMENTS
        for words, link in PICTURE.findall(document.read_text(encoding="utf-8"))
        if words.strip()
    }
    pictures = {path for path in tracked_files() if path.parent == ROOT / "docs" / "pictures"}
    assert sorted(relative(picture) for picture in pictures - shown) == []
    assert [relative(one) for one in pictures if one.stat().st_size >= 120_000] == []


def test_every_error_is_documented_with_its_exit_status():
    """The table of errors names each error that can be raised, and the status it gives."""
    text = (ROOT / "docs" / "architecture.md").read_text(encoding="utf-8")
    members = (getattr(errors, name) for name in errors.__all__)
    leaves = [m for m in members if isinstance(m, type) and not m.__subclasses__()]
    rows = {
        kind.__name__: rf"^\| `{kind.__name__}` \| `{kind.__base__.__name__}` \|[^|]+\| "
        rf"{errors.exit_status(kind('said so'))} \|$"
        for kind in leaves
    }
    missing = [name for name, row in rows.items() if not re.search(row, text, re.MULTILINE)]
    assert missing == []


def test_the_glossary_says_each_word_once():
    """No word is defined twice."""
    text = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
    words = [word for word, _ in GLOSSARY_ROW.findall(text)]
    assert len(words) > 30
    assert len(set(words)) == len(words)


def test_contributing_takes_five_lines():
    """From a fresh clone to green takes five numbered lines."""
    text = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
    assert re.findall(r"^(\d)\. ", text, re.MULTILINE) == ["1", "2", "3", "4", "5"]
