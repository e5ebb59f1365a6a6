"""The page of a part in a real browser: drawn while it is typed, changed by keys and pointer."""

import re
from datetime import UTC, datetime

import pytest

from loosehand.studio.part_examples import EXAMPLE_TUNE
from loosehand.studio.parts_store import add_part, load_part

TINY = "title: Tiny\ntempo: 90\nmeter: 4/4\ngrid: 4\n[a] x2\nRH hat   x.x. x.x. x.x. x.x.\n"
LONGEST_MS = 10_000
IS_DRAWN = "() => document.querySelector('.staff-pieces.is-live .staff-system') !== null"


def part_page(live_server, open_page, text=TINY, **how):
    """Keep a part, open its page, and return its number and the page."""
    number = add_part(live_server.desk.studio, text, player=None, now=datetime.now(UTC))
    found = open_page(f"{live_server.url}/part/{number}", **how)
    found.page.wait_for_selector(".staff-pieces.is-live .staff-system", timeout=LONGEST_MS)
    found.page.wait_for_load_state("networkidle")
    return number, found


def until_text(page, pattern):
    """Wait until the text of the part holds a pattern."""
    for _ in range(LONGEST_MS // 50):
        if re.search(pattern, page.input_value("#text")):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"{pattern} never came: {page.input_value('#text')}")


def strokes(page):
    """How many strokes stand on the staff."""
    return page.locator(".staff-stroke").count()


def test_the_staff_follows_what_is_typed(live_server, open_page):
    """A stroke that is typed stands on the staff a moment later, without a press."""
    _, found = part_page(live_server, open_page)
    assert strokes(found.page) == 8
    found.page.fill("#text", TINY.replace("x.x. x.x.\n", "xxxx xxxx\n"))
    found.page.wait_for_selector("#s0x0b1-p9-right-hand", timeout=LONGEST_MS)
    assert strokes(found.page) == 12
    assert found.page.text_content("#kept") == "Not saved yet."
    assert found.troubles == []


def test_a_fault_is_marked_where_it_is(live_server, open_page):
    """The sentence stands beside the text, the place is marked in it, the staff stays."""
    _, found = part_page(live_server, open_page)
    found.page.fill("#text", TINY.replace("x.x. x.x.\n", "x.x. x.z.\n"))
    found.page.wait_for_selector("#problem .say", timeout=LONGEST_MS)
    assert "line 6, column 27" in found.page.text_content("#problem .say")
    assert found.page.is_visible("#fault-mark")
    assert found.page.is_visible("#stale")
    assert strokes(found.page) == 8
    found.page.click("#problem button")
    caret = found.page.evaluate(
        "() => { const a = document.getElementById('text'); return a.value[a.selectionStart]; }"
    )
    assert caret == "z"
    found.page.keyboard.type("x")
    found.page.wait_for_selector("#fault-mark", state="hidden", timeout=LONGEST_MS)
    assert found.page.text_content("#problem") == ""
    assert found.troubles == []


def test_nothing_moves_under_the_hand_while_a_fault_is_typed(live_server, open_page):
    """Text and Save stay where they are when the sentence comes and goes."""
    _, found = part_page(live_server, open_page)
    found.page.evaluate("() => scrollTo(0, 0)")

    def places():
        boxes = (found.page.locator(each).bounding_box() for each in ("#text", "button.first"))
        return [(box["x"], box["y"]) for box in boxes]

    before = places()
    found.page.fill("#text", TINY.replace("x.x. x.x.\n", "x.x. x.z.\n"))
    found.page.wait_for_selector("#problem .say", timeout=LONGEST_MS)
    found.page.wait_for_selector("#stale", timeout=LONGEST_MS)
    assert places() == before


def test_the_staff_is_worked_with_keys_alone(live_server, open_page):
    """Arrows choose and say, keys change; the text follows, and focus stays on the staff."""
    number, found = part_page(live_server, open_page)
    page = found.page
    page.focus(".staff-pieces")
    assert page.text_content("#chosen") == "a bar 1, count 1: right hand, hat"
    for key in ("ArrowRight", "ArrowDown"):
        page.keyboard.press(key)
    assert page.text_content("#chosen") == "a bar 1, count 1, e: left hand, nothing"
    page.keyboard.press("Enter")
    until_text(page, r"LH snare +\.x\.\.")
    page.keyboard.press("a")
    until_text(page, r"LH snare +\.X\.\.")
    page.wait_for_function(
        "() => document.getElementById('chosen').textContent.includes('accent')",
        timeout=LONGEST_MS,
    )
    assert page.text_content("#chosen") == "a bar 1, count 1, e: left hand, snare, accent"
    page.keyboard.press("+")
    until_text(page, r"LH cross-stick +\.X\.\.")
    page.keyboard.press("Control+z")
    until_text(page, r"LH snare +\.X\.\.")
    page.click("button[value=save]")
    page.wait_for_load_state("networkidle")
    assert "LH snare" in load_part(live_server.desk.studio, number).text
    assert found.troubles == []


COVERED = """() => {
  const box = (node) => node.getBoundingClientRect();
  const [mark] = document.querySelectorAll("text.place-mark");
  const frame = box(document.querySelector(".staff-pieces")), letters = box(mark);
  const spans = [...document.querySelectorAll(".staff-system tspan")];
  const texts = spans.filter((one) => one.textContent);
  const meets = (one) => one.left < letters.right && one.right > letters.left
    && one.top < letters.bottom && one.bottom > letters.top;
  return { texts: texts.length, covered: texts.filter((one) => meets(box(one))).length,
    isInside: letters.top >= frame.top && letters.bottom <= frame.bottom };
}"""


def test_the_letters_of_the_limb_cover_no_name(live_server, open_page):
    """At the first place of each section, over which its name stands."""
    text = TINY + "[fill] f\nRH snare xxxx xxxx xxxx xxxx\n"
    _, found = part_page(live_server, open_page, text)
    found.page.focus(".staff-pieces")
    for key in ("Home", "PageDown"):
        found.page.keyboard.press(key)
        found.page.wait_for_selector("text.place-mark", state="attached", timeout=LONGEST_MS)
        seen = found.page.evaluate(COVERED)
        assert seen["texts"] >= 3
        assert (seen["covered"], seen["isInside"]) == (0, True)


def test_the_staff_is_worked_with_a_pointer(live_server, open_page):
    """A press on a note chooses it, a press on a button changes it."""
    _, found = part_page(live_server, open_page)
    page = found.page
    head = page.locator("#s0x0b1-p4-right-hand use").first.bounding_box()
    page.mouse.click(head["x"] + head["width"] / 2, head["y"] + head["height"] / 2)
    assert page.text_content("#chosen") == "a bar 1, count 2: right hand, hat"
    assert page.get_attribute("[data-edit=stroke]", "aria-pressed") == "true"
    page.click("[data-edit=ghost]")
    until_text(page, r"x\.x\. g\.x\.")
    page.click("[data-edit='other limb']")
    until_text(page, r"LH hat +\.\.\.\. g\.\.\.")
    assert found.troubles == []


def test_a_change_that_cannot_be_made_is_said(live_server, open_page):
    """Where there is no stroke nothing can be marked: the line that is read out says so."""
    _, found = part_page(live_server, open_page)
    page = found.page
    page.focus(".staff-pieces")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("g")
    page.wait_for_function(
        "() => document.getElementById('chosen').textContent.includes('no stroke there')",
        timeout=LONGEST_MS,
    )
    assert page.input_value("#text") == TINY


@pytest.mark.parametrize("width", [390, 700])
def test_a_narrow_page_has_narrow_systems(live_server, open_page, width):
    """No system is wider than the box that it stands in, once the page has drawn it anew."""
    _, found = part_page(live_server, open_page, EXAMPLE_TUNE, width=width)
    found.page.wait_for_function(
        "() => { const b = document.querySelector('.staff-pieces');"
        " return b.scrollWidth <= b.clientWidth; }",
        timeout=LONGEST_MS,
    )
    assert found.troubles == []


def test_the_staff_shows_the_section_that_is_typed_in(live_server, open_page):
    """The section of the caret is in sight while it is typed in, however long the part."""
    long = EXAMPLE_TUNE + "".join(
        f"\n[more {number}]\nRF kick x... x... x... x...\n" for number in range(20)
    )
    _, found = part_page(live_server, open_page, long)
    page = found.page
    page.focus("#text")
    page.keyboard.press("Control+End")
    page.keyboard.type("RH hat x... x... x... x...")
    page.wait_for_selector("[data-section='25'] [data-limb='right hand']", timeout=LONGEST_MS)
    box = page.locator(".staff-pieces").bounding_box()
    piece = page.locator("[data-section='25']").bounding_box()
    assert box["y"] - 5 <= piece["y"] < box["y"] + box["height"]
    assert found.troubles == []


def test_without_a_script_the_text_is_drawn_too(live_server, chromium):
    """The button Draw does what the script does."""
    number = add_part(live_server.desk.studio, TINY, player=None, now=datetime.now(UTC))
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live_server.url}/part/{number}")
    assert not page.is_visible("#pen")
    page.fill("#text", TINY.replace("90", "66"))
    page.click("button[value=draw]")
    assert page.text_content(".part-figures strong") == "66"
    assert load_part(live_server.desk.studio, number).text == TINY
    context.close()


def test_the_sound_of_a_part_is_played(live_server, open_page):
    """The browser's own player has the whole part: two bars of four at 90, after four counts."""
    _, found = part_page(live_server, open_page)
    found.page.evaluate("() => { document.querySelector('audio').preload = 'auto'; }")
    found.page.wait_for_function(
        "() => document.querySelector('audio').duration > 0", timeout=LONGEST_MS
    )
    length_s = found.page.evaluate("() => document.querySelector('audio').duration")
    assert 12 * 60 / 90 < length_s < 12 * 60 / 90 + 3
    assert found.troubles == []


def sound_length_s(page):
    """How long the sound in the page's player lasts, once it is known."""
    page.wait_for_function(
        "() => document.getElementById('sound').duration > 0", timeout=LONGEST_MS
    )
    return page.evaluate("() => document.getElementById('sound').duration")


def test_a_change_that_is_not_saved_is_heard(live_server, open_page):
    """A stroke is changed and Listen is pressed: the player plays that text, the part stays."""
    number, found = part_page(live_server, open_page)
    page = found.page
    page.focus(".staff-pieces")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    until_text(page, r"RH hat +xxx\.")
    assert "press Listen to hear it as it stands" in page.text_content("#sound-said")
    page.click(".text-side [data-listen=all]")
    assert sound_length_s(page) > 12 * 60 / 90
    assert "/part/heard/" in page.get_attribute("#sound", "src")
    assert page.text_content("#sound-said").startswith("As the text stands above, not saved yet")
    page.wait_for_function(
        "() => document.querySelector('.text-side [data-listen]').textContent === 'Stop'",
        timeout=LONGEST_MS,
    )
    page.click(".text-side [data-listen=all]")
    assert page.evaluate("() => document.getElementById('sound').paused")
    assert load_part(live_server.desk.studio, number).text == TINY
    assert found.troubles == []


def test_the_section_of_the_caret_is_heard(live_server, open_page):
    """One bar of the second section and four counts before it, at 90."""
    _, found = part_page(live_server, open_page, TINY + "[b]\nRH hat   x... x... x... x...\n")
    page = found.page
    page.focus("#text")
    page.keyboard.press("Control+End")
    page.click("[data-listen=section]")
    assert 8 * 60 / 90 < sound_length_s(page) < 8 * 60 / 90 + 3
    assert page.text_content("#sound-said").startswith("Section 2 as it is saved")
    assert found.troubles == []


def test_a_fault_is_said_and_nothing_is_played(live_server, open_page):
    """Listen on a text that cannot be read says so, and the player keeps what it had."""
    _, found = part_page(live_server, open_page)
    page = found.page
    before = page.get_attribute("#sound", "src")
    page.fill("#text", TINY.replace("x.x. x.x.\n", "x.x. x.z.\n"))
    page.click(".text-side [data-listen=all]")
    page.wait_for_selector("#problem .say", timeout=LONGEST_MS)
    page.wait_for_function(
        "() => document.getElementById('sound-said').textContent.startsWith('Not heard')",
        timeout=LONGEST_MS,
    )
    assert page.get_attribute("#sound", "src") == before
    assert found.troubles == []
