"""The shape of the project: what stands where, and what stands nowhere."""

import ast
import re
import tomllib
from pathlib import PurePosixPath

import pytest

from tests.project_files import (
    PACKAGE,
    ROOT,
    TESTS,
    parsed,
    relative,
    source_modules,
    tracked_files,
)

LOCKS = sorted((ROOT / "requirements").glob("*.txt"))
PINNED = re.compile(r"([a-z0-9-]+)==([^ ;\\]+)")
SHA256 = re.compile(r"    --hash=sha256:[0-9a-f]{64}( \\)?")

# Each is written so that it does not find itself.
FORBIDDEN = {
    "a package registry's host": re.compile(
        r"pypi[.]org|python[h]osted|npm[j]s[.]|deb[.]debian[.]|ana[c]onda[.]org|crates[.]io"
    ),
    "a path of one machine": re.compile(r"(?<![\w.])/(?:work|root|home/\w+|Users/\w+)/\w"),
    "a folder outside the project": re.compile(r"[.][.]/shared\b|\bwork[/]shared\b"),
}
# Packages that tests of the same name under tests/ mirror.
MIRRORED = sorted(p.parent.name for p in PACKAGE.glob("*/__init__.py"))


def has_code(path):
    """Whether a module holds anything that a test could call."""
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)
    return any(isinstance(node, kinds) for node in parsed(path).body)


def mirror_of(path):
    """Return where the tests of a source module stand."""
    place = path.relative_to(PACKAGE)
    name = place.parent.name if place.name == "__init__.py" else place.stem.lstrip("_")
    return TESTS / place.parent / f"test_{name}.py"


@pytest.mark.parametrize(
    "module", [p for p in source_modules() if has_code(p)], ids=lambda p: relative(p)
)
def test_every_module_has_its_tests(module):
    """A module with code has a test module that mirrors it."""
    assert mirror_of(module).is_file(), f"{relative(mirror_of(module))} is missing"


def test_every_test_module_has_its_module():
    """A test module in a folder named after a package mirrors a module of that package."""
    expected = {mirror_of(module) for module in source_modules()}
    strays = [
        relative(path)
        for package in MIRRORED
        for path in (TESTS / package).rglob("test_*.py")
        if path not in expected
    ]
    assert strays == []


def test_every_test_says_what_holds_in_one_line():
    """Each test has a docstring of one line."""
    silent = [
        f"{relative(path)}: {node.name}"
        for path in sorted(TESTS.rglob("test_*.py"))
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
        if len((ast.get_docstring(node) or "").splitlines()) != 1
    ]
    assert silent == []


def promised(tree):
    """Return the names in a module's ``__all__``, or None if it has none."""
    for node in tree.body:
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "__all__":
            return ast.literal_eval(node.value)
    return None


def bound_names(tree):
    """Return the public names that a module binds at its top level, imports of modules aside."""
    names = set()
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            names.add(node.name)
        elif isinstance(node, ast.ImportFrom):
            names |= {alias.asname or alias.name for alias in node.names}
        elif isinstance(node, ast.Assign):
            names |= {target.id for target in node.targets if isinstance(target, ast.Name)}
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            names.add(node.target.id)
    return {name for name in names if not name.startswith("_")}


@pytest.mark.parametrize("package", sorted(PACKAGE.glob("*/__init__.py")), ids=relative)
def test_every_package_promises_what_it_offers(package):
    """A package's ``__all__`` is all that it imports from its modules, and no more."""
    tree = parsed(package)
    names = promised(tree) or []
    assert set(names) == bound_names(tree)
    assert len(names) == len(set(names))


@pytest.mark.parametrize("module", source_modules(), ids=relative)
def test_every_promise_of_a_module_is_kept(module):
    """What a module's ``__all__`` names is there, under a public name."""
    tree = parsed(module)
    promises = [name for name in promised(tree) or [] if name != "__version__"]
    assert set(promises) <= bound_names(tree)


@pytest.mark.parametrize("what", FORBIDDEN)
def test_nothing_points_outside_the_project(what):
    """No file of the project names a registry's host, a machine's path or a folder outside."""
    found = []
    for path in tracked_files():
        text = path.read_bytes().decode("utf-8", errors="ignore")
        match = FORBIDDEN[what].search(text)
        if match:
            found.append(f"{relative(path)}: {match.group()}")
    assert found == []


def lock_pins(lock):
    """Return the versions that a lock file pins, by package."""
    return dict(PINNED.findall(lock.read_text(encoding="utf-8")))


def test_there_are_locks():
    """The lock files of running, checking and the bench are there."""
    assert [lock.name for lock in LOCKS] == ["bench.txt", "check.txt", "run.txt"]


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.name)
def test_a_lock_holds_pins_and_hashes_and_nothing_else(lock):
    """Every line of a lock is a pinned package or a hash: no address, no option, no path."""
    lines = lock.read_text(encoding="utf-8").splitlines()
    pins = [line for line in lines if not line.startswith(" ")]
    assert all(PINNED.match(line) and line.endswith(" \\") for line in pins)
    assert all(SHA256.fullmatch(line) for line in lines if line.startswith(" "))
    assert not any(sign in line for line in lines for sign in ("://", " @ ", "file:"))
    followers = [lines[lines.index(pin) + 1] for pin in pins]
    assert all(SHA256.fullmatch(follower) for follower in followers)


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.name)
def test_every_lock_agrees_with_what_runs(lock):
    """What is checked and what is measured is what runs: the same versions."""
    run = lock_pins(ROOT / "requirements" / "run.txt")
    assert run.items() <= lock_pins(lock).items()


def test_what_the_package_asks_for_is_locked():
    """The package's dependencies are those of run.in, the build back end aside."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    lines = (ROOT / "requirements" / "run.in").read_text(encoding="utf-8").splitlines()
    wanted = {line for line in lines if line and not line.startswith("#")}
    build = set(project["build-system"]["requires"])
    assert set(project["project"]["dependencies"]) == wanted - build
    assert build <= wanted


def test_paths_differ_by_more_than_case():
    """No two files would be one on a disk that ignores case, and no name is forbidden on one."""
    names = [relative(path) for path in tracked_files()]
    assert len({name.casefold() for name in names}) == len(names)
    assert not [name for name in names if set(PurePosixPath(name).name) & set('<>:"\\|?*')]
