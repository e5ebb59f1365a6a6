"""Every page in a real browser: no errors, readable by all, quick, light, never sideways."""

import hashlib
import re
import statistics

import pytest

from loosehand.studio.demo import DEMO_PLAYER
from loosehand.studio.part_examples import EXAMPLE_TUNE
from loosehand.web.app import _routes
from tests.project_files import TESTS

AXE = TESTS / "browser" / "vendor" / "axe.min.js"
MOST_FIRST_VIEW_MS = 300
MOST_BYTES = 150_000
VIEWS = 5
WIDTHS = (1280, 390)
THEMES = ("light", "dark")
GRAVE = {"serious", "critical"}

# What stands for each page whose address holds a name or a number.
CONCRETE = {
    "/chart/{player:path}": f"/chart/{DEMO_PLAYER}",
    "/chart/{player:path}/paper": f"/chart/{DEMO_PLAYER}/paper",
    "/compare": "/compare?one=1&other=2",
    "/pair/{secret}": "/pair/{secret}",
    "/part/{part_id:int}": "/part/1",
    "/part/{part_id:int}/ways": f"/part/1/ways?player={DEMO_PLAYER}",
    "/reach/{player:path}": f"/reach/{DEMO_PLAYER}",
    "/stand/{workout}": "/stand/{workout}",
    "/take/{take_id:int}": "/take/1",
}
# Addresses that answer with something else than a page, and what.
NO_PAGES = {
    "/chart/{player:path}/paper.pdf": "application/pdf",
    "/pair/{secret}/look.css": "text/css",
    "/part/heard/{key}.wav": "audio/wav",
    "/part/{part_id:int}/part.{ending}": "application/vnd.recordare.musicxml+xml",
    "/part/{part_id:int}/sound.wav": "audio/wav",
    "/take/{take_id:int}/sound": "audio/",
}
AN_ERROR = "/no-such-page"


def read_routes():
    """Return the paths of all routes that are read."""
    routes = (route for route in _routes() if "GET" in (getattr(route, "methods", None) or ()))
    return [route.path for route in routes]


PAGES = [CONCRETE.get(path, path) for path in read_routes() if path not in NO_PAGES]


@pytest.fixture
def address(live_server):
    """Return a function that fills an address in."""

    def filled(path):
        secret = live_server.desk.pairing.code().secret
        key = live_server.app.state.heard_texts.keep(EXAMPLE_TUNE)
        return live_server.url + path.format(secret=secret, workout=live_server.workout, key=key)

    return filled


def test_every_address_is_looked_at():
    """No page is left out: each route stands as it is, or in one of the two tables."""
    unknown = [path for path in PAGES if re.search(r"{(?!secret}|workout})", path)]
    assert unknown == [], "say in CONCRETE or NO_PAGES what stands for these"
    assert set(NO_PAGES) | set(CONCRETE) <= set(read_routes())


@pytest.mark.parametrize("path", sorted(NO_PAGES))
def test_what_is_no_page_is_none(chromium, address, path):
    """What is left out here answers with something else than a page."""
    concrete = path.replace("{player:path}", DEMO_PLAYER).replace("{take_id:int}", "1")
    concrete = concrete.replace("{part_id:int}", "1").replace("{ending}", "musicxml")
    context = chromium.new_context()
    answer = context.request.get(address(concrete))
    kind = answer.headers["content-type"]
    context.close()
    assert (answer.status, kind.startswith(NO_PAGES[path])) == (200, True), kind


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("path", PAGES)
def test_no_page_complains(open_page, address, path, width):
    """A page opens without an error in its console, and all that it asks for is there."""
    answers = []
    found = open_page(
        address(path),
        width=width,
        before=lambda page: page.on("response", lambda one: answers.append((one.status, one.url))),
    )
    found.page.wait_for_load_state("networkidle")
    assert [answer for answer in answers if answer[0] >= 400] == []
    assert found.troubles == []


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("path", [*PAGES, AN_ERROR])
def test_everybody_can_read_every_page(open_page, address, path, width):
    """The rules of accessibility find nothing serious or critical, in both themes and widths."""
    page = open_page(address(path), width=width).page
    page.evaluate(AXE.read_text(encoding="utf-8"))
    papers = set()
    for theme in THEMES:
        page.emulate_media(color_scheme=theme)
        papers.add(page.evaluate("getComputedStyle(document.documentElement).backgroundColor"))
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        assert len(found["passes"]) > 5, "the rules did not run"
        grave = [
            (rule["id"], node["target"], node["failureSummary"])
            for rule in found["violations"]
            if rule["impact"] in GRAVE
            for node in rule["nodes"]
        ]
        assert grave == [], theme
    assert len(papers) == len(THEMES), "both themes have the same paper"


@pytest.mark.parametrize("path", [*PAGES, AN_ERROR])
def test_every_picture_has_words(open_page, address, path):
    """A picture, drawn or fetched, says in words what it shows, or says that it is none."""
    page = open_page(address(path)).page
    silent = page.evaluate(
        """() => [...document.querySelectorAll("img, svg, canvas, [role=img]")].filter((one) => {
            const inside = one.parentElement.closest("[role=img], [aria-hidden=true], svg");
            const words = one.getAttribute("alt") ?? one.getAttribute("aria-label")
                ?? one.getAttribute("aria-labelledby") ?? one.querySelector("title")?.textContent;
            const said = one.getAttribute("alt") === "" || (words ?? "").trim() !== "";
            return !inside && !said && one.getAttribute("aria-hidden") !== "true";
        }).map((one) => one.outerHTML.slice(0, 120))"""
    )
    assert silent == []


@pytest.mark.parametrize("path", [*PAGES, AN_ERROR])
def test_no_page_scrolls_sideways(open_page, address, path):
    """On a phone held upright, no page is wider than the screen."""
    page = open_page(address(path), width=390, height=844).page
    widths = page.evaluate(
        "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert widths[0] <= widths[1] == 390


@pytest.mark.parametrize("path", PAGES)
def test_no_page_is_heavy(open_page, address, path):
    """All that a page fetches, before anything is pressed, is less than 150 kB over the wire."""
    lengths = []

    def listen(page):
        session = page.context.new_cdp_session(page)
        session.send("Network.enable")
        session.on(
            "Network.loadingFinished", lambda event: lengths.append(event["encodedDataLength"])
        )

    found = open_page(address(path), before=listen)
    found.page.wait_for_load_state("networkidle")
    assert len(lengths) >= 2, "nothing was counted"
    assert sum(lengths) < MOST_BYTES


@pytest.mark.timing
@pytest.mark.parametrize("path", PAGES)
def test_every_page_is_there_at_once(open_page, address, path):
    """With nothing kept from before, something is seen in less than 300 ms (median of five)."""
    page = open_page(address(path)).page
    page.context.new_cdp_session(page).send("Network.setCacheDisabled", {"cacheDisabled": True})
    views_ms = []
    for _ in range(VIEWS):
        page.goto(address(path), wait_until="load")
        views_ms.append(first_view_ms(page))
    assert statistics.median(views_ms) < MOST_FIRST_VIEW_MS, views_ms


def first_view_ms(page):
    """Return when a page first showed something, from the start of its opening."""
    for _ in range(100):
        found = page.evaluate(
            "performance.getEntriesByName('first-contentful-paint').map((one) => one.startTime)"
        )
        if found:
            return found[0]
        page.wait_for_timeout(20)
    raise AssertionError("nothing was ever seen")


def test_the_rules_are_those_that_were_brought():
    """The file of the rules is the one whose version and checksum stand beside it."""
    text = (AXE.parent / "README.md").read_text(encoding="utf-8")
    data = AXE.read_bytes()
    assert hashlib.sha256(data).hexdigest() in text
    version = re.match(rb"/\*! axe v([0-9.]+)\n", data).group(1).decode()
    assert f"| {version} |" in text
