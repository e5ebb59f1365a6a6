"""A real browser, and the real pages of the demo studio for it to open.

Where tests are spread, those of this folder share a process, so that the demo is made once. The
browser is let go at the end of each module: while it is held, an event loop runs in this thread.
"""

import threading
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import pytest

from loosehand.cli.hear_commands import hear_told
from loosehand.rounds.workout import RoundSetting, Workout, ladder_rounds, warm_up_round
from loosehand.studio.database import open_studio
from loosehand.studio.demo import DEMO_PLAYER, make_demo
from loosehand.studio.workouts import begin_workout
from loosehand.web import make_app
from loosehand.web.local_network import LocalNetwork
from loosehand.web.serve import LocalServer, open_port
from tests.run_every_check import chromium_path

HERE = Path(__file__).resolve().parent
NO_CHROMIUM = "no Chromium is installed, so no page was opened in a real browser"
LONGEST_START_S = 60
NETWORK = LocalNetwork(("192.0.2.5",), ("drumroom.local",), 8105, "0123456789abcdef" * 4)
HOSTS = frozenset({"127.0.0.1", "localhost"})
WORKOUT = Workout(
    DEMO_PLAYER,
    RoundSetting(
        round_s=60.0,
        rest_s=45.0,
        count_in_counts=4,
        counts_per_bar=4,
        accent=True,
        silent_bars=False,
        timbre="low wood",
        level_db=-3.0,
        play_out=False,
        technique="whip fours",
        surface="pad",
        loudness="medium",
        grip=None,
    ),
    (
        warm_up_round(lowest_bpm=90.0, round_s=60.0),
        *ladder_rounds(tempos_bpm=(90.0, 95.0), weak="left", round_s=60.0, alternate=True),
    ),
)
BROWSER_WORDS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-sync",
    "--no-first-run",
)


def pytest_collection_modifyitems(items):
    """Keep the tests of this folder together, where tests are spread over processes."""
    for item in items:
        if HERE in Path(item.path).parents:
            item.add_marker(pytest.mark.xdist_group("browser"))


@pytest.fixture(scope="module")
def chromium():
    """Return a Chromium that asks nobody outside for anything."""
    program = chromium_path()
    if program is None:
        pytest.skip(NO_CHROMIUM)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=list(BROWSER_WORDS))
        yield browser
        browser.close()


@dataclass(frozen=True)
class LiveServer:
    """The pages of the demo studio, served.

    Attributes
    ----------
    url : where, without a slash at the end
    app : what is served
    workout : key of a workout that waits to be played, None where there is none
    """

    url: str
    app: object
    workout: str | None

    @property
    def desk(self):
        """What the pages work with."""
        return self.app.state.desk


@pytest.fixture(scope="session")
def live_server(tmp_path_factory):
    """Serve the demo studio, made and heard for this run, on a free port."""
    folder = tmp_path_factory.mktemp("browser") / "demo"
    with closing(open_studio(folder, create=True, busy_timeout_s=10.0)) as studio:
        make_demo(studio, hearing=hear_told, now=datetime.now(UTC))
        with served(studio) as (url, app):
            yield LiveServer(url, app, begin_workout(studio, WORKOUT, now=datetime.now(UTC)))


@pytest.fixture(scope="session")
def empty_server(tmp_path_factory):
    """Serve an empty studio on a free port."""
    folder = tmp_path_factory.mktemp("browser") / "empty"
    with (
        closing(open_studio(folder, create=True, busy_timeout_s=10.0)) as studio,
        served(studio) as (url, app),
    ):
        yield LiveServer(url, app, None)


@contextmanager
def served(studio):
    """Serve a studio; give its address, without a slash at the end, and the app."""
    app = make_app(
        studio,
        hearing=hear_told,
        now=lambda: datetime.now(UTC),
        hosts=HOSTS,
        network=NETWORK,
    )
    server = LocalServer(app, open_port("127.0.0.1", 0), None)
    ready = threading.Event()
    thread = threading.Thread(target=server.run, kwargs={"ready": ready.set})
    thread.start()
    try:
        assert ready.wait(LONGEST_START_S)
        yield server.address.rstrip("/"), app
    finally:
        server.stop()
        thread.join(LONGEST_START_S)


@dataclass
class Opened:
    """A page in the browser, and what went wrong in it.

    Attributes
    ----------
    page : of playwright
    troubles : errors of the console and of scripts
    """

    page: object
    troubles: list = field(default_factory=list)


@pytest.fixture
def open_page(chromium):
    """Return a function that opens an address in a browser that was never here before."""
    contexts = []

    def opened(url, *, width=1280, height=800, theme="light", before=lambda _page: None):
        context = chromium.new_context(
            viewport={"width": width, "height": height}, color_scheme=theme
        )
        contexts.append(context)
        page = context.new_page()
        found = Opened(page)
        page.on("pageerror", lambda error: found.troubles.append(str(error)))
        page.on(
            "console",
            lambda said: found.troubles.append(said.text) if said.type == "error" else None,
        )
        before(page)
        page.goto(url, wait_until="load")
        return found

    yield opened
    for context in contexts:
        context.close()
