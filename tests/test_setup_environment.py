"""Making the environment: when, from what, and what is said when it cannot be made."""

import subprocess
import sys

import pytest

import setup_environment
from setup_environment import (
    SetupError,
    clean_environment,
    ensure_environment,
    environment_python,
    pip_problem,
    run_program,
    stamp_text,
)


@pytest.fixture
def project(tmp_path):
    """Return the folder of a small project with lock files of its own."""
    (tmp_path / "requirements").mkdir()
    for name in ("run.txt", "check.txt"):
        (tmp_path / "requirements" / name).write_text(f"# {name}\n", encoding="utf-8")
    (tmp_path / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
    return tmp_path


@pytest.fixture
def made(monkeypatch):
    """Return what is made and installed, in order, with nothing really done."""
    acts = []

    def make(venv):
        acts.append("make")
        python = environment_python(venv)
        python.parent.mkdir(parents=True, exist_ok=True)
        python.write_text("", encoding="utf-8")
        for stamp in venv.glob("*.stamp"):
            stamp.unlink()

    def install(_python, _root, *, purpose):
        acts.append(purpose)

    monkeypatch.setattr(setup_environment, "make_environment", make)
    monkeypatch.setattr(setup_environment, "install", install)
    return acts


def test_the_second_start_installs_nothing(project, made):
    """An environment that is as wanted is used as it is."""
    first = ensure_environment(project, purpose="run")
    second = ensure_environment(project, purpose="run")
    assert first == second == environment_python(project / ".venv")
    assert made == ["make", "run"]


def test_an_environment_for_the_checks_also_starts(project, made):
    """After the checks were run, the first start installs nothing."""
    ensure_environment(project, purpose="check")
    ensure_environment(project, purpose="run")
    assert made == ["make", "check"]


def test_the_checks_add_to_an_environment_that_starts(project, made):
    """After a start, the checks add what they need and keep what is there."""
    ensure_environment(project, purpose="run")
    ensure_environment(project, purpose="check")
    ensure_environment(project, purpose="run")
    assert made == ["make", "run", "check"]


@pytest.mark.parametrize(
    ("name", "text", "anew"),
    [
        ("requirements/run.txt", "# changed\n", True),
        ("pyproject.toml", "[project]\nname = 'other'\n", True),
        ("pyproject.toml", "[project]\n[tool.ruff]\nline-length = 80\n", False),
    ],
)
def test_what_it_was_made_from_decides(project, made, name, text, anew):
    """When what decides an installation changes, and only then, all is made from nothing."""
    ensure_environment(project, purpose="run")
    (project / name).write_text(text, encoding="utf-8")
    ensure_environment(project, purpose="run")
    assert made == ["make", "run"] * (2 if anew else 1)


def test_a_lost_environment_is_made_again(project, made):
    """A stamp without its Python is not believed."""
    environment_python(ensure_environment(project, purpose="run").parent.parent).unlink()
    ensure_environment(project, purpose="run")
    assert made == ["make", "run", "make", "run"]


def test_a_broken_off_installation_is_begun_again(project, made, monkeypatch):
    """An installation that failed leaves no stamp, so the next start does it again."""

    def fail(*_, **__):
        raise SetupError("no")

    with monkeypatch.context() as patch:
        patch.setattr(setup_environment, "install", fail)
        with pytest.raises(SetupError, match="no"):
            ensure_environment(project, purpose="run")
    ensure_environment(project, purpose="run")
    assert made == ["make", "make", "run"]


def test_an_incomplete_folder_is_named(project):
    """A missing lock file is named in one sentence."""
    (project / "requirements" / "run.txt").unlink()
    with pytest.raises(SetupError, match=r"run\.txt cannot be read: is the folder complete\?"):
        stamp_text(project, purpose="run")


def test_a_moved_folder_is_another_one(project, tmp_path_factory):
    """An environment holds its own path, so the stamp does too."""
    moved = tmp_path_factory.mktemp("moved") / "project"
    before = stamp_text(project, purpose="run")
    project.rename(moved)
    assert stamp_text(moved, purpose="run") != before


def test_the_python_inside_does_not_replace_itself():
    """The environment's own Python says who must make it anew."""
    with pytest.raises(SetupError, match="run the same with the computer's own Python"):
        setup_environment.make_environment(setup_environment.Path(sys.prefix))


@pytest.mark.parametrize(
    ("output", "said"),
    [
        (
            "WARNING: Retrying: NewConnectionError('<...>: Failed to establish a new "
            "connection')\nERROR: No matching distribution found for av==18.1.0",
            "the package index cannot be reached",
        ),
        ("ERROR: No matching distribution found for av==18.1.0", "does not exist for this Python"),
        ("ERROR: Could not install: [Errno 28] No space left on device", "no room left"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES", "is not the one that was locked"),
        ("ERROR: something new\n  a detail", "pip said 'something new'"),
        ("", "pip said 'nothing'"),
    ],
)
def test_trouble_with_pip_is_one_sentence(output, said):
    """What pip says at length becomes one sentence that says what to do or what is wrong."""
    sentence = pip_problem(output)
    assert said in sentence
    assert "\n" not in sentence


def test_trouble_reaches_the_person_without_a_traceback(monkeypatch, capsys):
    """A start that cannot set up says its sentence and ends with status 1."""

    def fail(*_, **__):
        raise SetupError("Loosehand could not be set up: so.")

    monkeypatch.setattr(setup_environment, "ensure_environment", fail)
    assert setup_environment.start([]) == 1
    assert capsys.readouterr().err == "Loosehand could not be set up: so.\n"


def test_stopping_the_set_up_is_no_accident(monkeypatch, capsys):
    """Ctrl-C while setting up ends with a sentence and the usual status."""

    def interrupt(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(setup_environment, "ensure_environment", interrupt)
    assert setup_environment.start([]) == 130
    assert "the next start begins it again" in capsys.readouterr().err


def test_settings_that_lead_astray_are_left_out():
    """What points Python or pip elsewhere does not reach the environment."""
    kept = clean_environment({"PYTHONPATH": "/elsewhere", "PIP_USER": "1", "LANG": "C"})
    assert kept == {"LANG": "C"}


@pytest.mark.parametrize("status", [0, 3])
def test_a_program_s_exit_status_comes_back(status):
    """The exit status of what was run is handed on."""
    assert run_program([sys.executable, "-c", f"raise SystemExit({status})"]) == status


@pytest.mark.skipif(sys.platform == "win32", reason="no signals of this kind on Windows")
def test_a_program_ended_by_a_signal_says_so():
    """A program that a signal ended gives 128 and the signal's number, as shells do."""
    program = "import os, signal; os.kill(os.getpid(), signal.SIGTERM)"
    assert run_program([sys.executable, "-c", program]) == 128 + 15


def test_a_real_environment_is_made_and_python_runs_in_it(tmp_path):
    """A virtual environment is really made, with a Python that runs."""
    venv = tmp_path / ".venv"
    setup_environment.make_environment(venv)
    program = "import sys; print(sys.prefix != sys.base_prefix)"
    command = [str(environment_python(venv)), "-c", program]
    result = subprocess.run(command, capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "True"
