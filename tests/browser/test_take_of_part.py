"""A take of a part in a real browser: from the part's page to what was heard of it."""

from datetime import UTC, datetime

from loosehand.studio.parts_store import add_part
from tests.judge.part_scenes import TEXT, write_accents
from tests.studio.part_take_scenes import PLAYED

LONGEST_MS = 20_000
PAGE_WIDTH = "() => document.documentElement.scrollWidth"
PLAYER = "Ines"


def test_a_take_of_a_part_is_sent_and_read(live_server, open_page, tmp_path):
    """On a phone: the link of the part, the form, the picture and its table, and back again."""
    number = add_part(live_server.desk.studio, TEXT, player=None, now=datetime.now(UTC))
    found = open_page(f"{live_server.url}/part/{number}", width=390, height=844)
    page = found.page
    page.click("text=Send a take of it")
    assert page.is_checked("input[value='right hand']")
    assert page.is_disabled("input[value='left hand']")
    assert page.input_value("input[name=tempo]") == "100"
    assert page.evaluate(PAGE_WIDTH) == 390
    page.fill("input[name=tempo]", "80")
    page.fill("input[name=player]", PLAYER)
    path = write_accents(tmp_path / "take.mid", PLAYED, tempo_bpm=80)
    page.set_input_files("input[type=file]", path)
    page.click("button.first")
    page.wait_for_url("**/take/*", timeout=LONGEST_MS)
    address = page.url
    assert "27 of 30 came, 1 came unasked" in page.text_content(".against-told")
    assert "at 80, slower than the part" in page.text_content(".against")
    picture = page.get_by_role("img", name="Accents, bar 1 to 12")
    assert picture.bounding_box()["width"] <= 390
    assert page.locator(".against .missed").count() == 3 + 1, "three in the picture, one in its key"
    page.click("text=Every bar as a table")
    assert page.locator(".against tbody tr").nth(3).inner_text().split("\t")[-1] == "1 &"
    assert page.evaluate(PAGE_WIDTH) == 390
    page.click(".against >> text=Slow train")
    assert page.locator(".part-takes tbody tr").count() == 1
    assert page.get_attribute(".part-takes tbody a", "href") == address.removeprefix(
        live_server.url
    )
    assert page.evaluate(PAGE_WIDTH) == 390
    page.goto(f"{live_server.url}/part/{number}")
    assert page.locator(".part-takes").count() == 0, "nobody's until one says whose"
    page.select_option("select[name=player]", PLAYER)
    page.click(".takes-form button")
    assert page.locator(".part-takes tbody tr").count() == 1
    assert found.troubles == []
