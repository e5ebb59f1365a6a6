"""Draw the pictures of the documents again: ``python docs/pictures.py``, or with their names.

The demo runs in a folder that is thrown away. What it prints in a terminal is drawn as it was
printed; its pages are opened in Chromium and kept as they were shown, in few colours.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from io import BytesIO, StringIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from rich.console import Console
from rich.text import Text

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    from loosehand.studio.database import Studio

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"
TERMINAL = "demo.svg"
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
MOST_BYTES = 120_000
COLOURS = (128, 64, 32, 16)
MOST_HIGH = 1500
WIDE, NARROW = (1280, 800), (390, 844)
LONGEST_START_S = 60
LONGEST_ROUND_S = 60
BROWSER_WORDS = ("--no-sandbox", "--autoplay-policy=no-user-gesture-required")
DRUMMER = ROOT / "tests" / "browser" / "drummer.js"


@dataclass(frozen=True)
class Shot:
    """A picture of a page.

    Attributes
    ----------
    name : of the file, without its ending
    address : of the page; ``{workout}`` and ``{round}`` stand for workouts that wait to be
        played, the second without a warm-up, and ``{part_take}`` for a take of a part, which is
        made for its picture: the other pictures, which come before it, do not show it
    size : of the window, width and height in pixels
    theme : light or dark
    at_count : on the stand, the count of a round that is played for the picture; None for none
    """

    name: str
    address: str
    size: tuple[int, int]
    theme: str
    at_count: int | None = None


SHOTS = (
    Shot("today", "/?player=Tobin", WIDE, "light"),
    Shot("today-narrow", "/?player=Tobin", NARROW, "dark"),
    Shot("stand", "/stand/{workout}", WIDE, "dark"),
    Shot("stand-round", "/stand/{round}", WIDE, "dark", at_count=24),
    Shot("stand-narrow", "/stand/{workout}", NARROW, "light"),
    Shot("take", "/take/1", WIDE, "light"),
    Shot("take-dark", "/take/1", WIDE, "dark"),
    Shot("take-narrow", "/take/1", NARROW, "light"),
    Shot("chart", "/chart/Nerys", WIDE, "light"),
    Shot("chart-narrow", "/chart/Nerys", NARROW, "light"),
    Shot("paper", "/chart/Nerys/paper", WIDE, "light"),
    Shot("reach", "/reach/Nerys", WIDE, "light"),
    Shot("reach-narrow", "/reach/Nerys", NARROW, "dark"),
    Shot("part", "/part/1", WIDE, "light"),
    Shot("part-narrow", "/part/2", NARROW, "dark"),
    Shot("ways", "/part/1/ways?player=Maud", WIDE, "light"),
    Shot("compare", "/compare?one=1&other=3", WIDE, "light"),
    Shot("phone", "/phone", WIDE, "light"),
    Shot("send-narrow", "/send?player=Nerys", NARROW, "dark"),
    Shot("take-of-part", "/take/{part_take}", WIDE, "light"),
)
GROOVE = """\
title: Evening groove
tempo: 104
meter: 4/4
grid: 4

[verse] x16 mf
RH hat    Xxxx Xxxx Xxxx Xxxx
LH snare  .... X..g .... X...
RF kick   x... ..x. x.x. ....
"""
GROOVE_COUNTS, BAR_PLACES = 64, 16
MISSED_PLACE, MISSED_SHARE = 12, 0.8
UNASKED_PLACE, UNASKED_SHARE = 6, 0.3
WORDS = ("demo", "--studio", "demo")
COLUMNS = 88
SVG_FORMAT = """\
<svg class="rich-terminal" viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
<style>
.{unique_id}-matrix {{
    font-family: Menlo, Consolas, "DejaVu Sans Mono", monospace;
    font-size: {char_height}px;
    line-height: {line_height}px;
}}
.{unique_id}-title {{ font-size: 18px; font-weight: bold; font-family: sans-serif; }}
{styles}
</style>
<defs>
<clipPath id="{unique_id}-clip-terminal">
<rect x="0" y="0" width="{terminal_width}" height="{terminal_height}" />
</clipPath>
{lines}
</defs>
{chrome}
<g transform="translate({terminal_x}, {terminal_y})" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g>
</g>
</svg>
"""
"""As the library's own, but it fetches no font from anywhere."""


def printed_by(words: tuple[str, ...], folder: Path) -> str:
    """Return what a command prints when it runs in a folder."""
    environment = {
        **os.environ,
        "COLUMNS": str(COLUMNS),
        "PYTHONIOENCODING": "utf-8",
        "PYTHONPATH": str(ROOT / "src"),
    }
    command = [sys.executable, "-m", "loosehand", *words]
    run = subprocess.run(
        command, cwd=folder, env=environment, stdout=subprocess.PIPE, encoding="utf-8", check=True
    )
    return run.stdout


def drawn(printed: str, *, title: str) -> str:
    """Return a picture, as SVG, of a terminal that shows what was printed."""
    console = Console(record=True, width=COLUMNS, file=StringIO())
    console.print(Text.from_ansi(printed.rstrip("\n")), highlight=False)
    svg = console.export_svg(title=title, code_format=SVG_FORMAT, unique_id="demo")
    return "\n".join(line.rstrip() for line in svg.splitlines()) + "\n"


def draw_terminal() -> None:
    """Run the demo and draw what it prints."""
    with tempfile.TemporaryDirectory() as folder:
        printed = printed_by(WORDS, Path(folder))
        if folder in printed:
            sys.exit("The demo prints the folder it ran in: the picture would show it.")
    (PICTURES / TERMINAL).write_text(
        drawn(printed, title=" ".join(("loosehand", *WORDS))), encoding="utf-8", newline="\n"
    )


def workout_that_waits(studio: "Studio", *, warm_up: bool) -> str:
    """Begin a workout, as the page Today offers it; return its key."""
    from loosehand.click.sound import TIMBRES
    from loosehand.rounds.workout import RoundSetting, Workout, ladder_rounds, warm_up_round
    from loosehand.studio.demo import DEMO_PLAYER
    from loosehand.studio.workouts import begin_workout

    setting = RoundSetting(
        round_s=60.0,
        rest_s=45.0,
        count_in_counts=4,
        counts_per_bar=4,
        accent=True,
        silent_bars=False,
        timbre=TIMBRES[0],
        level_db=-3.0,
        play_out=False,
        technique="whip fours",
        surface="pad",
        loudness="medium",
        grip=None,
    )
    rounds = ladder_rounds(
        tempos_bpm=(90.0, 95.0, 100.0), weak="left", round_s=60.0, alternate=True
    )
    if warm_up:
        rounds = (warm_up_round(lowest_bpm=90.0, round_s=60.0), *rounds)
    return begin_workout(studio, Workout(DEMO_PLAYER, setting, rounds), now=datetime.now(UTC))


def groove_played() -> bytes:
    """Return the recording of a simulated player who plays the groove, not all accents of it."""
    from loosehand.players.codec import encode
    from loosehand.players.people import draw_player
    from loosehand.players.play import TakePlan, play
    from loosehand.players.recipe import draw_recipe
    from loosehand.players.sound import render

    rng = np.random.default_rng(20261126)
    plan = TakePlan(
        tempo_bpm=104.0,
        places_per_count=4,
        hand="right",
        counts=GROOVE_COUNTS,
        failure=None,
        failure_count=None,
        slips=0,
        count_in_counts=4,
        downbeat_every=4,
        clicks_per_count=1,
        before_s=1.0,
        clock_ppm=0.0,
    )
    player = replace(draw_player(rng), technique="whip fours", accent_db=9.0)
    done = play(player, plan, rng)
    place, chance = done.stroke_place % BAR_PLACES, rng.random(done.stroke_place.size)
    is_missed = (place == MISSED_PLACE) & (chance < MISSED_SHARE)
    is_unasked = (place == UNASKED_PLACE) & (chance < UNASKED_SHARE)
    level_db = done.level_db - 12.0 * is_missed + 9.0 * is_unasked
    recipe = draw_recipe("clean_pad", rng)
    samples, rate_hz = render(replace(done, level_db=level_db), recipe, rng)
    return encode(samples, rate_hz, suffix=".wav", bit_rate=0)


def take_of_a_part(browser: "Browser", url: str, studio: "Studio") -> str:
    """Send a take of a part from the part's page, as a drummer would; return its number."""
    from loosehand.studio.demo import DEMO_PLAYER
    from loosehand.studio.parts_store import add_part

    number = add_part(studio, GROOVE, player=DEMO_PLAYER, now=datetime.now(UTC))
    with closing(browser.new_context()) as context:
        page = context.new_page()
        page.goto(f"{url}/send?part={number}")
        page.set_input_files(
            "input[name=file]",
            {"name": "take.wav", "mimeType": "audio/wav", "buffer": groove_played()},
        )
        page.fill("input[name=technique]", "whip fours")
        page.click("form.asked button.first")
        page.wait_for_url("**/take/*")
        return str(page.url.rsplit("/", 1)[1])


@contextmanager
def served_demo(folder: Path) -> Iterator[tuple[str, dict[str, str], "Studio"]]:
    """Serve the demo's pages; yield where they are, the workouts that wait, and the studio."""
    from loosehand.cli.hear_commands import hear_told
    from loosehand.studio.database import open_studio
    from loosehand.studio.demo import make_demo
    from loosehand.web import make_app
    from loosehand.web.local_network import LocalNetwork
    from loosehand.web.serve import LocalServer, open_port

    network = LocalNetwork(("192.0.2.5",), ("drumroom.local",), 8105, "0123456789abcdef" * 4)
    with closing(open_studio(folder, create=True, busy_timeout_s=10.0)) as studio:
        make_demo(studio, hearing=hear_told, now=datetime.now(UTC))
        app = make_app(
            studio,
            hearing=hear_told,
            now=lambda: datetime.now(UTC),
            hosts=frozenset({"127.0.0.1"}),
            network=network,
        )
        server = LocalServer(app, open_port("127.0.0.1", 0), None)
        ready = threading.Event()
        thread = threading.Thread(target=server.run, kwargs={"ready": ready.set})
        thread.start()
        try:
            if not ready.wait(LONGEST_START_S):
                sys.exit("The pages did not start.")
            yield (
                server.address.rstrip("/"),
                {
                    "workout": workout_that_waits(studio, warm_up=True),
                    "round": workout_that_waits(studio, warm_up=False),
                },
                studio,
            )
        finally:
            server.stop()
            thread.join(LONGEST_START_S)


def shot_of(browser: "Browser", url: str, shot: Shot) -> bytes:
    """Open a page and return its picture, as PNG in true colours."""
    width, height = shot.size
    context = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme="dark" if shot.theme == "dark" else "light",
        reduced_motion="reduce",
        permissions=["microphone"],
    )
    with closing(context):
        if shot.at_count is not None:
            context.add_init_script(path=DRUMMER)
        page = context.new_page()
        answer = page.goto(url, wait_until="networkidle")
        if answer is None or answer.status != 200:
            sys.exit(f"{shot.address} answered {answer.status if answer else 'nothing'}.")
        if shot.at_count is not None:
            play_to(page, shot.at_count)
        tall = page.evaluate("document.documentElement.scrollHeight")
        high = min(max(int(tall), height), MOST_HIGH)
        return page.screenshot(
            full_page=True, clip={"x": 0, "y": 0, "width": width, "height": high}
        )


def play_to(page: "Page", count: int) -> None:
    """Have the drummer of the tests play the first round, up to a count."""
    page.click("#arm")
    for _ in range(LONGEST_ROUND_S * 20):
        if page.inner_text("#figure") == str(count):
            return
        page.wait_for_timeout(50)
    sys.exit(f"The stand never came to count {count}: {page.inner_text('body')!r}")


def in_few_colours(png: bytes) -> bytes:
    """Return a picture in as many colours as its size allows."""
    from PIL import Image

    with Image.open(BytesIO(png)) as image:
        plain = image.convert("RGB")
    for colours in COLOURS:
        out = BytesIO()
        few = plain.quantize(colours, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
        few.save(out, "PNG", optimize=True)
        if out.tell() < MOST_BYTES:
            return out.getvalue()
    sys.exit(f"A picture is larger than {MOST_BYTES} bytes even in {COLOURS[-1]} colours.")


def draw_pages(shots: Sequence[Shot]) -> None:
    """Open the pages of the demo and keep what they show."""
    from playwright.sync_api import sync_playwright

    program = next((path for name in CHROMIUM_NAMES if (path := shutil.which(name))), None)
    if program is None:
        sys.exit("Chromium is missing: install it, then draw the pages.")
    with tempfile.TemporaryDirectory() as folder, served_demo(Path(folder) / "demo") as served:
        url, known, studio = served
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=program, args=list(BROWSER_WORDS))
            for shot in shots:
                if "{part_take}" in shot.address:
                    known["part_take"] = take_of_a_part(browser, url, studio)
                png = shot_of(browser, url + shot.address.format(**known), shot)
                small = in_few_colours(png)
                (PICTURES / f"{shot.name}.png").write_bytes(small)
                print(f"{shot.name}.png  {len(small) / 1000:.0f} kB")
            browser.close()


def main(names: Sequence[str]) -> None:
    """Draw the pictures of these names, all if there are none."""
    unknown = set(names) - {TERMINAL, *(f"{shot.name}.png" for shot in SHOTS)}
    if unknown:
        sys.exit(f"There is no picture called {', '.join(sorted(unknown))}.")
    PICTURES.mkdir(exist_ok=True)
    if not names or TERMINAL in names:
        draw_terminal()
    shots = [shot for shot in SHOTS if not names or f"{shot.name}.png" in names]
    if shots:
        draw_pages(shots)


if __name__ == "__main__":
    main(sys.argv[1:])
