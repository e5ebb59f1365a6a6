"""The page of ways of playing: for a player, for nobody, for parts of any kind."""

import re

import pytest

from loosehand.parts.techniques import TECHNIQUES
from loosehand.studio.part_examples import EXAMPLES
from tests.web.pages.page_forms import fields_without_label, forms_of
from tests.web.pages.part_scenes import TINY, kept_part

PAD = """title: Left on the pad
tempo: 95
meter: 4/4
grid: 4
[all] x24 mf
LH pad  Xxxx Xxxx Xxxx Xxxx
"""


def test_ways_of_a_player_rest_on_what_was_heard(client, studio):
    """Where the technique was heard on the surface, the page says so, with the reason."""
    number = kept_part(studio, PAD)
    text = client.get(f"/part/{number}/ways?player=Nerys").text
    assert "Does the left hand last, Nerys?" in text
    assert all(name in text for name in TECHNIQUES)
    (fours,) = [way for way in text.split("<article")[1:] if ">whip fours " in way]
    assert "rounds heard on the pad" in fours
    assert "How that is worked out" in fours
    assert text.count("Not heard yet on the pad") >= len(TECHNIQUES) - 1


def test_the_picture_comes_before_the_table_and_the_table_before_words(client, studio):
    """Chances as bars, then side by side, then each with its price."""
    text = client.get(f"/part/{kept_part(studio, PAD)}/ways").text
    order = ["Several ways may be right", 'class="ways-table"', "Each way, and its price"]
    assert [text.index(words) for words in order] == sorted(text.index(words) for words in order)
    assert text.index("part-plot") < text.index('class="ways-table"')


def test_every_figure_can_be_traced(client, studio):
    """Each way has its computation one click away, step by step and section by section."""
    text = client.get(f"/part/{kept_part(studio, PAD)}/ways").text
    assert len(re.findall(r"<summary>How that is worked out", text)) == len(TECHNIQUES)
    assert text.count("tunes that were simulated") == len(TECHNIQUES)
    assert text.count("Reserve left through the tune") >= len(TECHNIQUES)


def test_longer_than_what_was_seen_is_said_in_words(client, studio):
    """Minutes were heard, the tune is a minute of rounds and more without rest."""
    number = kept_part(studio, PAD.replace("x24", "x60"))
    text = client.get(f"/part/{number}/ways?player=Nerys").text
    assert re.search(r'<span class="sr"> beyond what was seen</span>', text)
    assert "longest hold that was seen" in text


def test_nobody_can_be_asked_for(client, studio):
    """Then all are beliefs; the form offers every player, its field labelled."""
    number = kept_part(studio, PAD)
    text = client.get(f"/part/{number}/ways?player=").text
    assert "Does the left hand last?" in text
    assert "rounds heard</td>" not in text
    assert "all chances are wide beliefs" in text
    assert fields_without_label(text) == []
    assert forms_of(text)[f"/part/{number}/ways"]["player"] == ""


def test_the_owner_of_a_part_is_meant_where_nobody_is_named(client, studio):
    """A part of a player's opens with that player's chances."""
    number = kept_part(studio, PAD, "Tobin")
    assert "last, Tobin?" in client.get(f"/part/{number}/ways").text


def test_of_several_players_none_is_meant_where_nobody_is_named(client, studio):
    """What one of several holds is not shown on a part of the studio before one is chosen."""
    number = kept_part(studio, PAD)
    text = client.get(f"/part/{number}/ways").text
    assert "Does the left hand last?" in text
    assert forms_of(text)[f"/part/{number}/ways"]["player"] == ""


@pytest.mark.parametrize("title", [title for title in EXAMPLES if title != "An empty bar"])
def test_every_example_has_ways(client, studio, title):
    """Whatever the meter and the hands."""
    answer = client.get(f"/part/{kept_part(studio, EXAMPLES[title])}/ways?player=Nerys")
    assert answer.status_code == 200
    assert "Several ways may be right" in answer.text
    assert "the only" not in answer.text


def test_a_part_of_feet_has_nothing_to_choose(client, studio):
    """Without a hand there is no way to tell of, and the page says so."""
    feet = "tempo: 90\nmeter: 2/4\ngrid: 1\nRF kick x x\n"
    text = client.get(f"/part/{kept_part(studio, feet)}/ways").text
    assert "No hand plays in this part" in text
    assert "ways-table" not in text


def test_an_unknown_player_or_part_is_not_found(client, studio):
    """One sentence each."""
    number = kept_part(studio, TINY)
    assert client.get(f"/part/{number}/ways?player=Nobody").status_code == 404
    assert client.get("/part/99/ways").status_code == 404


def test_swing_is_told_in_one_quiet_line(client, studio):
    """The remark stands under what the part asks, and nowhere on the page of a straight part."""
    swung = kept_part(studio, PAD.replace("tempo: 95", "tempo: 126\nswing: 71"))
    text = client.get(f"/part/{swung}/ways").text
    asked = text[text.index('id="asks"') : text.index("</section>", text.index('id="asks"'))]
    assert '<p class="quiet">At this tempo the short note, a sixteenth, lasts 69 ms;' in asked
    assert "which would be swing 58 here.</p>" in asked
    straight = client.get(f"/part/{kept_part(studio, PAD)}/ways").text
    assert "short note" not in straight


FILL = """title: Out and back
tempo: 90
meter: 4/4
grid: 4
[verse] x3 p
RH hat        xxxx xxxx xxxx xxxx | xxxx xxxx .... ....
RH floor tom  .... .... .... .... | .... .... X.X. ....
LH snare      .... x... .... x..g | .... x... .... ....
RF kick       x... .... x... .... | x... .... .... x...
"""


def cells(text, caption):
    """Rows of the table with a caption, each the words of its cells."""
    table = text[text.index(f"<caption>{caption}</caption>") :].split("</table>")[0]
    rows = table.split("<tbody>")[1].split("</tr>")[:-1]
    return [
        [" ".join(re.sub("<[^>]+>", " ", cell).split()) for cell in re.split("</t[dh]>", row)[:-1]]
        for row in rows
    ]


def test_what_is_asked_is_drawn_before_it_is_told(client, studio):
    """Each hand through the tune, then the limbs, the sections, who strikes at once, then words."""
    text = client.get(f"/part/{kept_part(studio, FILL)}/ways").text
    asked = text[text.index('id="asks"') :]
    order = [
        'id="plot-hands" role="img"',
        "<caption>Each limb<",
        "<caption>The right hand, section by section<",
        "<caption>A hand and a foot at once<",
        "<p>The right hand leads",
    ]
    assert [asked.index(words) for words in order] == sorted(asked.index(words) for words in order)
    assert "right hand: 12 s on its surface, 1 s on another one in 6 stretches, 3 s of rest" in text


def test_limbs_sections_and_pairs_have_their_figures(client, studio):
    """As they are worked out by hand in docs/demand.md."""
    text = client.get(f"/part/{kept_part(studio, FILL)}/ways").text
    limbs = cells(text, "Each limb")
    assert limbs[0] == ["right hand", "78", "4.9", "6.0", "p to mf, 8 dB"]
    assert limbs[-1] == ["all together", "102", "", "", "softer than pp to mf, 16 dB"]
    assert cells(text, "The right hand, section by section") == [
        [
            "verse",
            "78",
            "25 in 4.0 s",
            "bar 1 on 1",
            "1.00 s: bar 2 after 3 &amp; (2 times) 0.33 s: bar 2 after 3 (3 times)",
            "bar 1 on 1: hat, after another surface (2 times)",
        ]
    ]
    assert cells(text, "A hand and a foot at once") == [
        ["right hand and right foot", "same", "9"],
        ["left hand and right foot", "crossed", "0"],
    ]


def test_each_way_says_on_which_strokes_the_accents_fall(client, studio):
    """A picture, then a table: in threes the count's accents come on a drive, a tap, an up."""
    text = client.get(f"/part/{kept_part(studio, PAD)}/ways").text
    (threes,) = [way for way in text.split("<article")[1:] if ">whip threes " in way]
    worked_out = threes[threes.index("How that is worked out") :]
    assert "down 48 for nothing; tap 24 fought; up 24 fought." in worked_out
    assert worked_out.index("for nothing; tap") < worked_out.index("<caption>Stroke by stroke")
    assert "Each bar starts on stroke 1 of the drive, down." in worked_out
    assert cells(worked_out, "Stroke by stroke of the drive") == [
        ["down", "144", "48", "", "1 (24), 4 (24)", "96", "", ""],
        ["tap", "120", "", "24", "2 (24)", "", "", ""],
        ["up", "120", "", "24", "3 (24)", "", "", ""],
    ]
