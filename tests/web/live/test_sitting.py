"""Checks of a sitting: whole workouts by a page without a browser."""

import numpy as np
import pytest
from sqlalchemy import select

from loosehand.errors import InputError
from loosehand.hear.decode import read_mono
from loosehand.hear.heard import ListenRequest
from loosehand.hear.listen import listen_as_told
from loosehand.hear.live import LiveEar
from loosehand.hear.scheduled import acoustics_of, round_acoustics_from_json
from loosehand.studio.chart import chart_rounds
from loosehand.studio.models import Reading, Round, Take
from loosehand.studio.sound import path_of_content
from tests.web.live.conftest import new_stand, workout_of
from tests.web.live.page_and_room import BLOCK, RATE_HZ, ROUND_TRIP_S, steady


def play_as_asked(planned):
    """Left holds to the end, right slows down from count 5 on, alternating stops after 5."""
    places = planned["places_per_count"]
    place, off_s = steady(planned["counts"], places)
    if planned["hand"] == "right":
        place_s = 60.0 / planned["tempo_bpm"] / places
        off_s = off_s + 0.25 * place_s * np.maximum(place - 5 * places, 0)
    if planned["hand"] == "alternating":
        return place[: 5 * places], off_s[: 5 * places]
    return place, off_s


def is_done(page):
    """Whether the workout is over."""
    return page.state["phase"] in {"done", "pain"}


def on_chart(stand):
    """Hand, count held and feel of every round on the chart."""
    with stand.studio.look() as session:
        rounds = chart_rounds(session, player="Nerys")
    return [(each.row.tags.hand, each.row.count_held, each.row.tags.feel) for each in rounds]


def take_and_sound(stand, order=0):
    """What was told of a stored take, its reading, and its sound."""
    with stand.studio.look() as session:
        take = session.scalars(select(Take).order_by(Take.id)).all()[order]
        reading = session.scalars(select(Reading).where(Reading.take_id == take.id)).one()
        path = path_of_content(
            stand.studio.folder, kind="sound", content_sha256=take.content_sha256
        )
        return take.told, reading.body, read_mono(path, longest_s=400.0).samples


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A stand, and a page that played a workout of three rounds to its end."""
    stand = new_stand(tmp_path_factory.mktemp("whole"))
    seat = stand.seat(stand.begin(workout_of(alternate=True)))
    page = stand.page(seat, play_round=play_as_asked, feels=[1, 0, 3])
    page.arm()
    stand.play(page, until=is_done)
    yield stand, page
    stand.studio.close()


def test_a_workout_without_hands(whole):
    """Three rounds run by themselves and stand on the chart with the planted counts and feels."""
    stand, played = whole
    assert played.state["phase"] == "done"
    assert on_chart(stand) == [
        ("left", 12, "loose"),
        ("right", 5, None),
        ("alternating", 5, "tense"),
    ]


def test_the_check_finds_the_way_of_the_click(whole):
    """The round trip is found from the click's own bleed, to a tenth of a millisecond."""
    _, played = whole
    assert played.checked["click_heard"]
    assert played.checked["round_trip_s"] == pytest.approx(ROUND_TRIP_S, abs=1e-4)
    assert played.checked["strokes"] == 4


def test_the_stored_sound_is_what_was_sent(whole):
    """Every sample of a stored take is the one that the page sent: none lost, none twice."""
    stand, played = whole
    sent = np.concatenate([samples for _, samples in played.sent])
    for order in range(3):
        told, _, sound = take_and_sound(stand, order)
        assert told["capture"]["frames_lost"] == told["capture"]["frames_repeated"] == 0
        at = _place_of(sound, sent)
        assert np.abs(sent[at : at + sound.size] - sound).max() <= 2.0**-24


def _place_of(part, whole):
    """Where a part lies in a whole."""
    size = 2 ** int(np.ceil(np.log2(whole.size + part.size)))
    matched = np.fft.irfft(np.fft.rfft(whole, size) * np.conj(np.fft.rfft(part, size)), size)
    return int(np.argmax(matched[: whole.size]))


def test_settled_live_is_what_the_stored_take_reads(whole):
    """The live ear's settled strokes are those of the stored take's reading, bit for bit."""
    stand, _ = whole
    for order in range(3):
        told, body, sound = take_and_sound(stand, order)
        ear = LiveEar(
            acoustics_of(round_acoustics_from_json(told["acoustics"])),
            count_s=60.0 / told["request"]["tempo_bpm"],
            places_per_count=told["request"]["places_per_count"],
            hand=told["request"]["hand"],
        )
        chunks = [sound[k : k + BLOCK] for k in range(0, sound.size, BLOCK)]
        parts = [ear.push(chunk).settled.time_s for chunk in chunks]
        live_s = np.concatenate([*parts, ear.finish().settled.time_s])
        known = acoustics_of(round_acoustics_from_json(told["acoustics"]))
        heard = listen_as_told(sound, ListenRequest(**told["request"]), known)
        assert heard.grid is not None
        live_s = live_s[live_s >= heard.grid.first_count_s - 0.5 * heard.grid.place_s]
        assert live_s.size > 15
        assert np.array_equal(live_s, heard.strokes.time_s)
        # The reading is written to the microsecond.
        assert [stroke["time_s"] for stroke in body["strokes"]] == live_s.round(6).tolist()


def test_asynchronies_are_absolute(whole):
    """With the way of the click known, the lead told is that which was planted."""
    stand, _ = whole
    _, body, _ = take_and_sound(stand, 0)
    heard_ms = np.array([stroke["asynchrony_ms"] for stroke in body["strokes"]])
    planted_ms = 1e3 * steady(12, 4)[1]
    assert heard_ms.size == planted_ms.size
    assert np.abs(heard_ms - planted_ms).max() < 1.0


def test_strokes_come_back_while_playing(whole):
    """Strokes are told while the round runs, with how far they lean."""
    _, played = whole
    heard = [stroke for message in played.strokes for stroke in message["heard"]]
    assert len(heard) > 80
    assert all(-1.0 <= lean <= 1.0 for _, _, lean in heard)


def test_pain_stops_the_workout(stand):
    """Four strokes and one more end the workout, and the round is flagged."""
    seat = stand.seat(stand.begin(workout_of(tempos=(120.0, 125.0))))
    page = stand.page(seat, play_round=play_as_asked, feels=[4])
    page.arm()
    stand.play(page, until=lambda each: each.state["phase"] == "confirm")
    page.strike(page.frame + int(1.2 * RATE_HZ))
    stand.play(page, until=is_done)
    assert page.state["phase"] == "pain"
    assert on_chart(stand) == [("left", 12, "pain")]


def test_a_round_nobody_plays_is_void_and_comes_again(stand):
    """Two counts of silence end a round; with no stroke in it, it is void and offered again."""
    seat = stand.seat(stand.begin(workout_of()))
    page = stand.page(seat, play_round=lambda planned: (np.zeros(0), np.zeros(0)))
    page.arm()
    stand.play(page, until=lambda each: each.results)
    assert page.results[0]["void"] == "nobody played"
    assert (page.state["phase"], page.state["index"]) == ("waiting", 0)
    assert on_chart(stand) == []


@pytest.mark.parametrize("why", ["device", "interrupted", "microphone"])
def test_what_goes_wrong_voids_the_round(stand, why):
    """A lost device, a call, a lost microphone: the round is void and its sound kept."""
    seat = stand.seat(stand.begin(workout_of()))
    page = stand.page(seat, play_round=play_as_asked)
    page.arm()
    stand.play(page, until=lambda each: len(each.strokes) > 4)
    page.send({"kind": "void", "why": why, "check_again": why == "device"})
    stand.settle(page)
    assert any("the round is void and comes again" in said for said in page.said)
    with stand.studio.look() as session:
        found = session.scalars(select(Round)).one()
        assert (found.standing, found.why_void) == ("void", why)
        assert found.take is not None
    assert page.state["index"] == 0


def test_lost_sound_is_logged_and_a_gap_voids(stand):
    """A few lost frames are logged; a gap of more than a quarter of a second voids the round."""
    seat = stand.seat(stand.begin(workout_of()))
    page = stand.page(seat, play_round=play_as_asked)
    page.arm()
    stand.play(page, until=lambda each: len(each.strokes) > 4)
    page.block()
    stand.play(page, until=lambda each: each.results)
    told, _, _ = take_and_sound(stand)
    assert told["capture"]["frames_lost"] == BLOCK
    stand.play(page, until=lambda each: each.state["phase"] == "round")
    for _ in range(30):
        page.block()
    stand.play(page, until=lambda each: len(each.results) == 2)
    assert page.results[1]["void"] == "sound was lost"


def test_a_key_begins_and_ends_a_round(stand):
    """A key wakes a round and ends it: ended by choice, and so on the chart."""
    seat = stand.seat(stand.begin(workout_of()))
    page = stand.page(seat, play_round=play_as_asked)
    page.woke = True
    page.arm()
    stand.play(page, until=lambda each: each.state["phase"] == "waiting")
    page.send({"kind": "key", "key": "go"})
    stand.play(page, until=lambda each: len(each.strokes) > 12)
    page.send({"kind": "key", "key": "stop"})
    stand.play(page, until=lambda each: each.results)
    with stand.studio.look() as session:
        row = chart_rounds(session, player="Nerys")[0].row
    assert row.ended == "stopped by choice"


def test_softer_strokes_than_the_tag_says(stand):
    """A round far softer than the sound check says so, on the page and in its take."""
    seat = stand.seat(stand.begin(workout_of(loudness="loud")))
    page = stand.page(seat, play_round=play_as_asked)
    page.arm()
    stand.play(page, until=lambda each: each.state["phase"] == "round")
    page.sound["events"] = [
        (at, 0.25 * wave if wave.size == round(0.08 * RATE_HZ) else wave)
        for at, wave in page.sound["events"]
    ]
    stand.play(page, until=lambda each: each.results)
    _, body, _ = take_and_sound(stand)
    assert any("softer than in the sound check" in said for said in page.said)
    assert any("softer than in the sound check" in note for note in body["quality"]["notes"])


@pytest.mark.parametrize(
    ("message", "sentence"),
    [
        ({"kind": "dance"}, "is not known"),
        ({"kind": "arm", "rate": 1}, "rate = 1 cannot be"),
        ({"kind": "begun", "round": "../../etc", "frame": 1, "index": 0}, "not the key of a round"),
        ({"kind": "begun", "round": "0" * 32, "frame": -1, "index": 0}, "frame = -1 cannot be"),
        ({"kind": "begun", "round": "0" * 32, "frame": 9, "index": 5}, "is not the one that comes"),
        ({"kind": "key", "key": 7}, "key is not a text"),
        ({"kind": "void", "why": "x" * 99}, "why is not a text"),
    ],
)
def test_rubbish_is_refused_and_nothing_is_lost(stand, message, sentence):
    """A message that cannot be is refused in a sentence, and the sitting goes on."""
    seat = stand.seat(stand.begin(workout_of()))
    page = stand.page(seat, play_round=play_as_asked)
    page.arm()
    stand.settle(page)
    with pytest.raises(InputError, match=sentence):
        page.send(message)
    stand.play(page, until=lambda each: each.state["phase"] == "waiting")


def test_a_pad_gives_the_same_counts(stand):
    """Strokes of a MIDI pad give the same counts as the microphone."""
    seat = stand.seat(stand.begin(workout_of(alternate=True)))
    page = stand.page(seat, play_round=play_as_asked)
    page.send({"kind": "arm", "rate": RATE_HZ, "listens": "pad", "settings": {}, "latency_s": 0.0})
    stand.settle(page)
    for planned_hand in ("left", "right", "alternating"):
        assert page.state["planned"]["hand"] == planned_hand
        if page.state["phase"] == "waiting":
            page.send({"kind": "key", "key": "go"})
            stand.settle(page)
        _play_on_pad(stand, page)
    assert [each[1] for each in on_chart(stand)] == [12, 5, 5]


def _play_on_pad(stand, page):
    """Play the round that was begun, by messages of a pad and of the clock."""
    results = len(page.results)
    strokes = iter((page.round_first + page.true_s * RATE_HZ).tolist())
    coming = next(strokes, None)
    for frame in range(page.round_first, page.round_first + 60 * RATE_HZ, RATE_HZ // 20):
        while coming is not None and coming <= frame:
            page.send({"kind": "pad", "frame": coming, "note": 38, "velocity": 90})
            coming = next(strokes, None)
        page.send({"kind": "clock", "frame": frame})
        page.frame = frame
        stand.settle(page)
        if len(page.results) > results and page.state["phase"] in {"round", "done"}:
            return
