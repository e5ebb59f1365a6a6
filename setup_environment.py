"""The environment that start.py and check.py share: made once, from locked requirements.

``.venv`` beside this file holds it. A stamp inside says from which lock files, by which Python
and where it was made; as long as that is still true, nothing is installed again.

Standard library only: this runs before anything is installed.
"""

import hashlib
import json
import os
import subprocess
import sys
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path

__all__ = ["SetupError", "check", "ensure_environment", "start"]

ROOT = Path(__file__).resolve().parent
DEMO_WORDS = ("serve", "--demo")
INTERRUPTED_STATUS = 130
SETUP_FAILED_STATUS = 1
UNUSABLE_STATUS = 2

# The tables of pyproject.toml that decide what is installed; lint's, say, do not.
INSTALLED_TABLES = ("build-system", "project")
# check.txt holds all of run.txt, so an environment for the checks also starts.
LOCKS = {"run": "run.txt", "check": "check.txt"}
ALSO_SERVES = {"run": ("run", "check"), "check": ("check",)}

# What would lead the environment's Python astray from what is installed in it.
LEFT_OUT_OF_ENVIRONMENT = (
    "PYTHONPATH",
    "PYTHONHOME",
    "PIP_PREFIX",
    "PIP_REQUIRE_HASHES",
    "PIP_TARGET",
    "PIP_USER",
)

PIP_TROUBLES = (
    (
        ("No space left on device", "WinError 112"),
        "there is no room left on the disk",
    ),
    (
        ("DO NOT MATCH THE HASHES",),
        "a package that came is not the one that was locked; nothing of it was installed",
    ),
    (
        (
            "Failed to establish a new connection",
            "NewConnectionError",
            "NameResolutionError",
            "ProxyError",
            "ConnectTimeout",
            "ReadTimeout",
            "Connection broken",
            "Connection aborted",
            "SSLError",
        ),
        "the package index cannot be reached; go online for this first start and run it again",
    ),
    (
        ("No matching distribution found",),
        "a locked package does not exist for this Python or this kind of computer",
    ),
)


class SetupError(Exception):
    """The environment could not be made; the message is one sentence for the person."""


def start(words: Sequence[str]) -> int:
    """Start Loosehand with the words of the command line, or the demo if there are none.

    Returns
    -------
    status : exit status of Loosehand, or 1 where the environment could not be made
    """
    return _run_in_environment("run", ["-m", "loosehand", *(words or DEMO_WORDS)])


def check(words: Sequence[str]) -> int:
    """Run every check.

    Returns
    -------
    status : 0 if all passed, 1 if not, 2 if words were given (there are none to give)
    """
    if words:
        return _refuse("check.py takes no words: it runs every check.", status=UNUSABLE_STATUS)
    return _run_in_environment("check", [str(ROOT / "tests" / "run_every_check.py")])


def run_program(command: Sequence[str]) -> int:
    """Run a program to its end in the terminal of this one, and hand back its exit status."""
    process = subprocess.Popen(command, env=clean_environment(os.environ))
    while True:
        try:
            status = process.wait()
        except KeyboardInterrupt:  # the program hears it too, and ends in its own way
            continue
        return status if status >= 0 else 128 - status


def ensure_environment(root: Path, *, purpose: str) -> Path:
    """Make ``root/.venv`` fit for a purpose, unless it already is.

    Parameters
    ----------
    root : folder of the project
    purpose : "run" or "check"

    Returns
    -------
    python : path of the environment's Python

    Raises
    ------
    SetupError    if it cannot be made
    """
    venv = root / ".venv"
    python = environment_python(venv)
    wanted = {name: stamp_text(root, purpose=name) for name in LOCKS}
    made = [name for name in LOCKS if python.exists() and _is_stamped(venv, name, wanted[name])]
    if any(name in made for name in ALSO_SERVES[purpose]):
        return python
    print("Setting up Loosehand (once, about half a minute) ...", file=sys.stderr, flush=True)
    if not made:
        make_environment(venv)
    install(python, root, purpose=purpose)
    _stamp_path(venv, purpose).write_text(wanted[purpose], encoding="utf-8")
    return python


def environment_python(venv: Path) -> Path:
    """Path of the Python of a virtual environment on this system."""
    return venv / "Scripts" / "python.exe" if os.name == "nt" else venv / "bin" / "python"


def stamp_text(root: Path, *, purpose: str) -> str:
    """What an environment must have been made from to serve a purpose, as text to compare.

    Raises
    ------
    SetupError    if a file that it is made from is missing
    """
    lock, settings = root / "requirements" / LOCKS[purpose], root / "pyproject.toml"
    try:
        locked = lock.read_bytes()
        project = tomllib.loads(settings.read_text(encoding="utf-8"))
    except OSError as error:
        raise SetupError(f"{error.filename} cannot be read: is the folder complete?") from error
    installed = {table: project.get(table) for table in INSTALLED_TABLES}
    digest = hashlib.sha256(locked + json.dumps(installed, sort_keys=True).encode())
    version = ".".join(str(number) for number in sys.version_info[:3])
    return f"{digest.hexdigest()}\n{version}\n{root}\n"


def clean_environment(environment: Mapping[str, str]) -> dict[str, str]:
    """Environment variables without those that lead a virtual environment astray."""
    return {k: v for k, v in environment.items() if k not in LEFT_OUT_OF_ENVIRONMENT}


def make_environment(venv: Path) -> None:
    """Make an empty virtual environment, in place of what was there.

    Raises
    ------
    SetupError    if this Python cannot, or if it is the one that would be replaced
    """
    if Path(sys.prefix).resolve() == venv.resolve():
        raise SetupError(
            "This is the Python inside .venv, which must be made anew: "
            "run the same with the computer's own Python."
        )
    command = [sys.executable, "-m", "venv", "--clear", str(venv)]
    result = _run_quietly(command)
    if result.returncode != 0:
        raise SetupError(
            "This Python cannot make a virtual environment (on Debian and Ubuntu install "
            f"python3-venv): {_last_line(result.stdout)}"
        )


def install(python: Path, root: Path, *, purpose: str) -> None:
    """Install the locked requirements and the project itself, in place.

    Raises
    ------
    SetupError    if pip cannot
    """
    pip = [str(python), "-m", "pip", "install", "--quiet", "--no-input", "--retries", "2"]
    lock = root / "requirements" / LOCKS[purpose]
    steps = (
        [*pip, "--require-hashes", "--only-binary", ":all:", "--requirement", str(lock)],
        [*pip, "--no-deps", "--no-build-isolation", "--no-index", "--editable", str(root)],
    )
    for command in steps:
        result = _run_quietly(command)
        if result.returncode != 0:
            raise SetupError(pip_problem(result.stdout))


def pip_problem(output: str) -> str:
    """One sentence for what pip said when it failed.

    Examples
    --------
    >>> pip_problem("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM ...")[:36]
    'Loosehand could not be set up: a pac'
    """
    for signs, reason in PIP_TROUBLES:
        if any(sign in output for sign in signs):
            return f"Loosehand could not be set up: {reason}."
    return f"Loosehand could not be set up: pip said '{_last_line(output)}'."


def _run_in_environment(purpose: str, arguments: Sequence[str]) -> int:
    """Run the environment's Python, made first if need be, and hand back its exit status."""
    try:
        python = ensure_environment(ROOT, purpose=purpose)
    except SetupError as problem:
        return _refuse(str(problem), status=SETUP_FAILED_STATUS)
    except KeyboardInterrupt:
        return _refuse(
            "Stopped while setting up; the next start begins it again.", status=INTERRUPTED_STATUS
        )
    return run_program([str(python), *arguments])


def _run_quietly(command: Sequence[str]) -> "subprocess.CompletedProcess[str]":
    """Run a command with its output, errors too, kept as text."""
    return subprocess.run(
        command,
        env=clean_environment(os.environ),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
        check=False,
    )


def _stamp_path(venv: Path, purpose: str) -> Path:
    """Where an environment says what it was made from."""
    return venv / f"loosehand-{purpose}.stamp"


def _is_stamped(venv: Path, purpose: str, wanted: str) -> bool:
    """Whether an environment says that it was made from what is wanted."""
    try:
        return _stamp_path(venv, purpose).read_text(encoding="utf-8") == wanted
    except OSError:
        return False


def _last_line(output: str) -> str:
    """Last line that says something; pip's come with ERROR before them."""
    lines = [line.strip() for line in output.splitlines() if line.strip()]
    errors = [line for line in lines if line.startswith("ERROR")]
    return (errors or lines or ["nothing"])[-1].removeprefix("ERROR: ")


def _refuse(sentence: str, *, status: int) -> int:
    """Say one sentence to the person and hand back the exit status."""
    print(sentence, file=sys.stderr)
    return status
