"""Checks of a sitting: whole workouts by a page without a browser."""

from dataclasses import replace

import numpy as np
import pytest
from sqlalchemy import select

from loosehand.errors import DiskFull, InputError
from loosehand.hear.decode import read_mono
from loosehand.hear.heard import ListenRequest
from loosehand.hear.listen import listen_as_told
from loosehand.hear.live import LiveEar
from loosehand.hear.scheduled import acoustics_of, round_acoustics_from_json
from loosehand.studio.chart import chart_rounds
from loosehand.studio.models import Reading, Round, Take
from loosehand.studio.sound import path_of_content
from loosehand.web.live import journal as journal_module
from loosehand.web.live import sittings as sittings_module
from loosehand.web.live.sittings import Seat
from tests.web.live import conftest as conftest_module
from tests.web.live import page_and_room as page_module
from tests.web.live.conftest import new_sittings, new_stand, plan_of, workout_of
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
        ({"kind": "void", "why": "\ud800"}, "is not known"),
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


def until_phase(stand, phase, **how):
    """A page whose workout of two rounds came to a phase."""
    seat = stand.seat(stand.begin(workout_of()))
    page = stand.page(seat, play_round=play_as_asked, **how)
    page.arm()
    stand.play(page, until=lambda each: each.state["phase"] == phase)
    return page


def let_pass(stand, page, length_s):
    """Let time pass."""
    for _ in range(int(length_s * RATE_HZ / BLOCK)):
        page.step()
        stand.settle(page)


def no_room(*_args, **_more):
    """What a full disk says."""
    raise DiskFull("the disk is full")


def test_a_round_that_cannot_be_kept_does_not_begin(stand, monkeypatch):
    """Where the disk is full the round stops, is offered again, and begins once there is room."""
    page = until_phase(stand, "waiting")
    with monkeypatch.context() as patch:
        patch.setattr(sittings_module, "new_journal", no_room)
        with pytest.raises(DiskFull):
            stand.play(page, until=lambda each: each.strokes)
    stand.settle(page)
    assert page.state["phase"] == "waiting"
    assert page.over == [page.begun["round"]]
    page.send({"kind": "key", "key": "go"})
    stand.play(page, until=lambda each: each.results)
    assert page.results[0]["void"] is None


def test_a_round_that_finds_no_room_is_filed_later(stand, monkeypatch):
    """A round whose end and take a full disk refuses is kept, tried again, and counts."""
    page = until_phase(stand, "round")
    with monkeypatch.context() as patch:
        patch.setattr(sittings_module, "file_round", no_room)
        patch.setattr(journal_module, "_write_whole", no_room)
        stand.play(page, until=lambda each: "the disk is full." in each.said)
        stand.sittings._found_at_s -= 100.0
        assert stand.sittings.clear_away() == 0
        let_pass(stand, page, 12.0)
    assert page.state["phase"] == "judging"
    assert 3 <= page.said.count("the disk is full.") <= 4
    assert stand.sittings.clear_away() == 0
    stand.play(page, until=lambda each: each.results, longest_s=6.0)
    assert page.results[0]["void"] is None
    assert on_chart(stand)[0][:2] == ("left", 12)


def test_progress_that_cannot_be_written_stops_nothing(stand, monkeypatch):
    """Where the studio cannot be written to for a moment the round begins all the same."""
    page = until_phase(stand, "waiting")
    with monkeypatch.context() as patch:
        patch.setattr(sittings_module, "save_progress", no_room)
        page.send({"kind": "key", "key": "go"})
        stand.play(page, until=lambda each: each.strokes)
    assert "the disk is full." in page.said


@pytest.mark.parametrize(("key", "phase"), [("pain", "pain"), ("finish", "done")])
def test_what_is_over_stays_over(stand, key, phase):
    """After pain, or enough, neither another sound device nor a new check goes on."""
    page = until_phase(stand, "rest")
    page.send({"kind": "key", "key": key})
    page.send({"kind": "void", "why": "device", "check_again": True})
    page.send({"kind": "check"})
    stand.settle(page)
    let_pass(stand, page, 12.0)
    assert page.state["phase"] == phase


def test_a_device_that_goes_in_a_rest_voids_nothing(stand):
    """Where no round runs none is said to be void; no round begins before the new check."""
    page = until_phase(stand, "rest")
    page.send({"kind": "void", "why": "device", "check_again": True})
    page.send({"kind": "key", "key": "go"})
    stand.settle(page)
    assert page.said[-1] == "A sound device was plugged in or taken away."
    assert page.state["phase"] == "check"
    page.send({"kind": "check"})
    stand.play(page, until=lambda each: each.state["phase"] == "waiting")


def test_a_round_before_the_sound_is_checked_is_refused(stand):
    """A page that begins a round though its sound is being checked anew is told so."""
    page = until_phase(stand, "rest")
    page.send({"kind": "void", "why": "device", "check_again": True})
    begun = {"kind": "begun", "round": "a" * 32, "frame": page.frame, "index": 1}
    with pytest.raises(InputError, match="not checked yet"):
        page.send(begun)


def test_a_page_that_comes_back_says_again_how_it_is_played(stand):
    """What is asked for at the press holds after a new server took over in mid-round."""
    page = until_phase(stand, "round")
    fresh = new_sittings(stand).join(page.sitting.key, "page-1", take_over=False).sitting
    page.sitting = fresh
    armed = {"kind": "arm", "rate": RATE_HZ, "listens": "microphone", "latency_s": 0.2}
    fresh.take_message(armed | {"waits": True, "spoken": True})
    assert fresh._way_s == pytest.approx(ROUND_TRIP_S, abs=1e-4)
    fresh._check = replace(fresh._check, path=None)
    assert fresh._way_s == 0.2
    assert fresh._conductor.waits
    assert fresh._conductor.extra_answer_s > 0


def test_clicks_that_never_reached_the_page_are_offered_again(stand):
    """Where the line broke as the round was to begin, it waits to be woken again."""
    page = until_phase(stand, "waiting")
    page.send({"kind": "key", "key": "go"})
    play = next(each for each in page.sitting.outbox if each["do"] == "play")
    page.sitting.outbox.clear()
    armed = {"kind": "arm", "rate": RATE_HZ, "listens": "microphone", "latency_s": 0.0}
    page.send(armed)
    stand.settle(page)
    assert page.state["phase"] == "waiting"
    page.take(play)
    stand.settle(page)
    assert page.state["phase"] == "round"


def test_pain_after_a_round_without_any_sound(stand):
    """Pain is shown at once, though nothing was kept of the void round before it."""
    seat = stand.seat(stand.begin(workout_of()))
    page = stand.page(seat, play_round=lambda _planned: (np.zeros(0), np.zeros(0)))
    page.send({"kind": "arm", "rate": RATE_HZ, "listens": "pad", "settings": {}, "latency_s": 0.0})
    page.send({"kind": "key", "key": "go"})
    stand.settle(page)
    for k in range(1, 200):
        page.send({"kind": "clock", "frame": page.round_first + k * RATE_HZ // 20})
        stand.settle(page)
    assert page.results[0]["void"] == "nobody played"
    page.send({"kind": "key", "key": "pain"})
    stand.settle(page)
    assert page.state["phase"] == "pain"


@pytest.mark.parametrize("rate_hz", [16_000, 44_100, 96_000])
def test_other_rates_bars_and_tempos(stand, monkeypatch, rate_hz):
    """At other rates, in bars of three with silent ones and a tempo between, all is held."""
    for module in (page_module, conftest_module):
        monkeypatch.setattr(module, "RATE_HZ", rate_hz)
    odd = workout_of(
        tempos=(117.3,), counts_per_bar=3, count_in_counts=5, accent=False, silent_bars=True
    )
    page = stand.page(stand.seat(stand.begin(odd)), play_round=hold_all)
    page.arm()
    stand.play(page, until=is_done)
    assert page.checked["round_trip_s"] == pytest.approx(ROUND_TRIP_S, abs=1e-4)
    assert [(each["held"], each["void"]) for each in page.results] == [(11, None), (11, None)]


def hold_all(planned):
    """Hold to the end, whatever is asked."""
    return steady(planned["counts"], planned["places_per_count"])


def test_three_places_a_count(stand):
    """Triplets in bars of seven are held to the end."""
    workout = workout_of(tempos=(131.7,), counts_per_bar=7, count_in_counts=2)
    rounds = tuple(replace(each, places_per_count=3) for each in workout.rounds)
    seat = stand.seat(stand.begin(replace(workout, rounds=rounds)))
    page = stand.page(seat, play_round=hold_all)
    page.arm()
    stand.play(page, until=is_done)
    assert [(each["held"], each["counts"]) for each in page.results] == [(13, 13), (13, 13)]


def test_a_check_that_cannot_be_kept_holds_all_the_same(stand, monkeypatch):
    """Where a full disk does not take the check its workout goes on; a new server checks anew."""
    with monkeypatch.context() as patch:
        patch.setattr(sittings_module, "keep_check", no_room)
        page = until_phase(stand, "waiting")
    assert "the disk is full." in page.said
    page.send({"kind": "key", "key": "go"})
    stand.play(page, until=lambda each: len(each.strokes) > 4)
    page.sitting = new_sittings(stand).join(page.sitting.key, "page-1", take_over=False).sitting
    again = stand.page(Seat(page.sitting), play_round=play_as_asked)
    page.send = again.send
    stand.play(page, until=lambda each: each.results)
    assert (page.results[0]["held"], page.results[0]["void"]) == (12, None)
    assert page.begun["round"] == "check"
    stand.play(page, until=lambda each: each.state["phase"] == "waiting")


def test_a_check_that_goes_on_is_what_the_page_shows(stand):
    """A device that goes in mid-round: while its void round is filed the new check goes on."""
    page = until_phase(stand, "round")
    page.send({"kind": "void", "why": "device", "check_again": True})
    page.send({"kind": "check"})
    stand.settle(page)
    assert [each["void"] for each in page.results] == ["device"]
    assert page.state["phase"] == "check"
    stand.play(page, until=lambda each: each.state["phase"] == "waiting")


def lose_left_soon(planned):
    """The left hand stops after three counts, the others hold."""
    counts = 3 if planned["hand"] == "left" else planned["counts"]
    return steady(counts, planned["places_per_count"])


@pytest.fixture
def adapted(stand):
    """A page in the rest after the left hand lost two tempos in a row of a planned ladder."""
    workout = workout_of(tempos=(120.0, 125.0, 130.0))
    key = stand.begin(workout, plan=plan_of(workout))
    page = stand.page(stand.seat(key), play_round=lose_left_soon)
    page.arm()
    stand.play(page, until=lambda each: len(each.results) == 3)
    stand.play(page, until=lambda each: each.state["phase"] == "rest")
    return key, page


def test_a_hand_that_is_done_leaves_its_ladder(stand, adapted):
    """The rounds left are the other hand's; the rest says why, and the next round no more."""
    _, page = adapted
    assert [each["index"] for each in page.results] == [0, 1, 2]
    assert page.state["rounds"] == 5
    assert page.state["why"].startswith("Left: two tempos in a row were lost")
    stand.play(page, until=lambda each: each.state["phase"] == "round")
    assert page.state["why"] is None
    stand.play(page, until=is_done)
    hands = ["left", "right", "left", "right", "right"]
    assert [hand for hand, _, _ in on_chart(stand)] == hands


def test_a_changed_plan_outlives_the_server(stand, adapted):
    """After a restart the changed rounds are gone on with, and the time spent is still spent."""
    key, page = adapted
    spent_s = page.sitting._plan.spent_s
    assert spent_s == pytest.approx(page.frame / RATE_HZ, abs=1.0)
    again = new_sittings(stand).join(key, "page-2", take_over=False).sitting
    assert (again.state()["rounds"], again.state()["index"]) == (5, 3)
    assert again._plan.spent_s == pytest.approx(spent_s, abs=1.0)


def test_time_away_from_the_stand_is_not_spent(stand, adapted):
    """A page that comes back later, on a clock of its own, goes on counting from there."""
    key, page = adapted
    spent_s = page.sitting._plan.spent_s
    again = stand.page(stand.seat(key, "page-2"), play_round=lose_left_soon)
    again.frame = 500 * RATE_HZ
    again.arm()
    stand.play(again, until=lambda each: each.state["phase"] == "waiting")
    spent_here_s = again.frame / RATE_HZ - 500.0
    assert again.sitting._plan.spent_s == pytest.approx(spent_s + spent_here_s, abs=1.0)
