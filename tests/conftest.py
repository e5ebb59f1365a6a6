"""What all tests share: the mark of a check from outside, which must say where it comes from.

``@pytest.mark.published(source=, locator=, kind=)`` stands on every check against a value that
our own code did not write, and on every test in ``tests/outside``. A mark that leaves a field
out, or names an unknown kind, stops the collection.
"""

from pathlib import Path

import pytest

OUTSIDE = Path(__file__).resolve().parent / "outside"
PUBLISHED_FIELDS = ("source", "locator", "kind")
PUBLISHED_KINDS = (
    "printed",  # typed from a page
    "reference-run",  # other software's result: name and version in the source
    "analytic",  # closed form
    "simulated",  # truth that we planted
    "common-practice",  # a rule of thumb of the trade: no source
    "from-memory",  # a value that was not looked up again
)


def published_problem(args, kwargs):
    """Return what is wrong with the fields of a published mark, or None."""
    if args:
        return "takes named fields only"
    missing = [field for field in PUBLISHED_FIELDS if not str(kwargs.get(field) or "").strip()]
    if missing:
        return "misses " + ", ".join(missing)
    unknown = sorted(set(kwargs) - set(PUBLISHED_FIELDS))
    if unknown:
        return "has unknown fields " + ", ".join(unknown)
    if kwargs["kind"] not in PUBLISHED_KINDS:
        return f"has kind {kwargs['kind']!r}, not one of " + ", ".join(PUBLISHED_KINDS)
    return None


def item_problem(item):
    """Return what is wrong with a test's published marks, or None."""
    marks = list(item.iter_markers("published"))
    if not marks and OUTSIDE in Path(item.path).parents:
        return "is a check from outside, so it must carry a published mark"
    problems = (published_problem(mark.args, mark.kwargs) for mark in marks)
    return next((f"published mark {problem}" for problem in problems if problem), None)


def pytest_collection_modifyitems(items):
    """Refuse tests whose published mark is not complete."""
    problems = [(item.nodeid, item_problem(item)) for item in items]
    lines = [f"{nodeid}: {problem}" for nodeid, problem in problems if problem]
    if lines:
        raise pytest.UsageError("\n".join(lines))
