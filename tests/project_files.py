"""The project's own files, for the tests that read them."""

import ast
import os
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "src" / "loosehand"
TESTS = ROOT / "tests"
MIGRATIONS = PACKAGE / "studio" / "migrations"


def tracked_files():
    """Return the files that git tracks or would take, or all but hidden ones without git."""
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    try:
        names = subprocess.run(command, cwd=ROOT, capture_output=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        return sorted(_unhidden_files())
    paths = (ROOT / os.fsdecode(name) for name in names.split(b"\0") if name)
    return sorted(path for path in paths if path.is_file())


def _unhidden_files():
    """Yield the files of a copy that is no git checkout."""
    for path in ROOT.rglob("*"):
        parts = path.relative_to(ROOT).parts
        hidden = any(part.startswith(".") and part != ".ci" for part in parts)
        made = any(part == "__pycache__" or part.endswith(".egg-info") for part in parts)
        if path.is_file() and not hidden and not made:
            yield path


def source_modules():
    """Return the source files of the package, migrations left out."""
    return sorted(p for p in PACKAGE.rglob("*.py") if MIGRATIONS not in p.parents)


def parsed(path):
    """Return the syntax tree of a Python file."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def relative(path):
    """Return a path as it is written in the project."""
    return path.relative_to(ROOT).as_posix()
