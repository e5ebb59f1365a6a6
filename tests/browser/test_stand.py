"""The stand in a real browser: whole workouts, and what goes wrong in browsers.

The microphone is a node in the page's own sound (``drummer.js``), so strokes follow the clicks
that were set going. One round goes through Chromium's fake capture of a file.
"""

import base64
import time
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile
from sqlalchemy import select

from loosehand.hear.decode import read_mono
from loosehand.studio.models import Day, Round
from loosehand.studio.sound import path_of_content
from loosehand.studio.workouts import add_player, begin_workout
from tests.browser.conftest import BROWSER_WORDS
from tests.run_every_check import chromium_path
from tests.web.live.conftest import plan_of, workout_of

# They wait for rounds that are played in real time.
pytestmark = pytest.mark.real_time

HERE = Path(__file__).resolve().parent
DRUMMER = HERE / "drummer.js"
AXE = HERE / "vendor" / "axe.min.js"
LONGEST_S = 90
IS_OVER = "['done', 'pain'].includes(drummer.state?.phase)"


def until(page, expression):
    """Wait until something holds in the page. Its policy allows no scripts that are text."""
    for _ in range(10 * LONGEST_S):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"not within {LONGEST_S} s: {expression}")


def begin(live_server, player, *, planned=False, **changes):
    """Begin a workout of short rounds, as a plan or not, and return its key."""
    workout = replace(workout_of(**changes), player=player)
    studio = live_server.desk.studio
    add_player(studio, player, now=datetime.now(UTC))
    plan = plan_of(workout) if planned else None
    return begin_workout(studio, workout, now=datetime.now(UTC), plan=plan)


def rounds_of(live_server, player):
    """Rounds of a player in the order played, with takes and readings."""
    studio = live_server.desk.studio
    with studio.look() as session:
        found = session.scalars(
            select(Round).join(Day).where(Day.player.has(name=player)).order_by(Round.id)
        ).all()
        for each in found:
            if each.take is not None:
                assert each.take.readings[-1].body is not None
        return found


def sound_of(live_server, found):
    """The stored sound of a round."""
    folder = live_server.desk.studio.folder
    path = path_of_content(folder, kind="sound", content_sha256=found.take.content_sha256)
    return read_mono(path, longest_s=120.0)


def with_drummer(script=""):
    """Put the drummer in the page before it runs."""

    def before(page):
        page.add_init_script(path=str(DRUMMER))
        page.add_init_script(script)

    return before


def counts(rounds):
    """Counts held, in order."""
    return [each.take.readings[-1].count_held for each in rounds]


@pytest.fixture
def live_server(empty_server):
    """Serve a studio of nobody: each test begins its own workout."""
    return empty_server


@pytest.fixture
def stand_page(live_server, open_page):
    """Open a stand with a drummer and press its button."""

    def opened(key, script="", **how):
        found = open_page(f"{live_server.url}/stand/{key}", before=with_drummer(script), **how)
        found.page.click("#arm")
        return found

    return opened


def test_a_whole_workout_without_hands(live_server, stand_page):
    """Left and right run by themselves; the counts are the planted ones, each sample is there."""
    key = begin(live_server, "Orla", tempos=(110.0,), round_s=7.0, rest_s=3.0)
    found = stand_page(
        key, "drummer.rounds = [{}, {slowsFrom: 6}]; drummer.feels = [1, 2]; drummer.keep = true;"
    )
    until(found.page, IS_OVER)
    rounds = rounds_of(live_server, "Orla")
    assert [each.standing for each in rounds] == ["counts", "counts"]
    assert [each.feel for each in rounds] == ["loose", "working"]
    for heard, planted in zip(counts(rounds), (12, 6), strict=True):
        assert abs(heard - planted) <= 1
    check_every_sample(live_server, found.page, rounds)
    assert found.troubles == []


def test_the_rest_says_why_what_comes_was_changed(live_server, stand_page):
    """A hand that is done leaves its ladder: the rest says so in a line, the next round no more."""
    tempos = (110.0, 115.0, 120.0)
    key = begin(live_server, "Orla", planned=True, tempos=tempos, round_s=5.0, rest_s=4.0)
    found = stand_page(key, "drummer.rounds = [{stopsAfter: 2}, {}, {stopsAfter: 2}];")
    until(found.page, "drummer.state?.index === 3 && drummer.state.phase === 'rest'")
    assert found.page.is_visible("#why")
    assert found.page.text_content("#why").startswith("Left: two tempos in a row were lost")
    assert "its ladder is over" in found.page.text_content("#status")
    until(found.page, "drummer.state.phase === 'round'")
    assert not found.page.is_visible("#why")
    assert found.page.text_content("#next") == "4 of 5"
    assert found.troubles == []


def check_every_sample(live_server, page, rounds):
    """The stored sound is what the page's worklet took: no gap, repeat or shift."""
    blocks = [
        np.frombuffer(base64.b64decode(each), dtype=np.uint8)
        for each in page.evaluate(
            "drummer.kept.map((data) => btoa(String.fromCharCode(...new Uint8Array(data))))"
        )
    ]
    frames = np.array([block[:8].view("<f8")[0] for block in blocks])
    sounds = [block[8:].view("<f4") for block in blocks]
    # By frame: where the browser's own sound stood still (as its start may), nothing is laid. A
    # frame lost or sent twice in a round is counted with its take.
    first = frames[0]
    sent = np.full(int(frames[-1] - first) + sounds[-1].size, np.nan, dtype=np.float32)
    for frame, sound in zip(frames, sounds, strict=True):
        at = int(frame - first)
        sent[at : at + sound.size] = sound
    for each in rounds:
        assert each.take.told["capture"]["frames_lost"] == 0
        assert each.take.told["capture"]["frames_repeated"] == 0
        stored = sound_of(live_server, each).samples
        at = place_of(stored, np.nan_to_num(sent))
        assert np.abs(sent[at : at + stored.size] - stored).max() <= 2.0**-23


def place_of(part, whole):
    """Where a part lies in a whole."""
    size = 2 ** int(np.ceil(np.log2(whole.size + part.size)))
    matched = np.fft.irfft(np.fft.rfft(whole, size) * np.conj(np.fft.rfft(part, size)), size)
    return int(np.argmax(matched[: whole.size]))


def test_every_frame_of_the_microphone_is_stored(live_server, stand_page):
    """A microphone that counts its own frames: the stored sound counts on without a fault."""
    key = begin(live_server, "Idris", tempos=(140.0,), round_s=5.0, play_out=True)
    found = stand_page(key, "drummer.counting = true; drummer.wakes = false;")
    until(found.page, "drummer.state?.phase === 'waiting'")
    found.page.keyboard.press("Space")
    until(found.page, "drummer.state?.phase === 'round'")
    # A page that is stuck for a second and a half stalls neither the clicks nor the capture.
    found.page.evaluate(
        "(() => { const end = performance.now() + 1500; while (performance.now() < end); })()"
    )
    until(found.page, "drummer.takes.length === 1")
    sound = sound_of(live_server, rounds_of(live_server, "Idris")[0])
    rate = sound.sample_rate_hz
    number = np.rint((sound.samples / 0.25 + 0.5) * rate).astype(int)
    assert number.size > 6 * rate
    faults = np.flatnonzero(np.diff(number) % rate != 1)
    assert faults.size == 0, (faults.size, faults[:20] / rate, number.size / rate)


def test_a_pad_gives_the_same_counts(live_server, open_page):
    """Strokes of a MIDI pad, their times mapped by the browser's stamps, give the same counts."""
    key = begin(live_server, "Wilf", tempos=(110.0,), round_s=7.0, rest_s=3.0)
    script = "drummer.pad = true; drummer.rounds = [{}, {slowsFrom: 6}]; drummer.feels = [1, 2];"
    found = open_page(f"{live_server.url}/stand/{key}", before=with_drummer(script))
    found.page.check("#listens-pad")
    found.page.click("#arm")
    found.page.keyboard.press("Space")
    until(found.page, IS_OVER)
    rounds = rounds_of(live_server, "Wilf")
    assert [each.take.kind for each in rounds] == ["midi", "midi"]
    for heard, planted in zip(counts(rounds), (12, 6), strict=True):
        assert abs(heard - planted) <= 1
    assert found.troubles == []


def test_the_tab_is_closed_in_mid_round(live_server, stand_page):
    """A tab that is closed leaves a void round with its sound to the last moment."""
    key = begin(live_server, "Bryn", tempos=(110.0,), round_s=20.0)
    found = stand_page(key, "drummer.keep = true;")
    until(found.page, "drummer.state?.phase === 'round'")
    found.page.wait_for_timeout(5_000)
    last = found.page.evaluate(
        "Array.from(new Float64Array(drummer.kept[drummer.kept.length - 1].slice(0, 8)))[0]"
    )
    begun = found.page.evaluate("drummer.begun")
    rate = found.page.evaluate("drummer.rate")
    found.page.close()
    found_round = None
    for _ in range(50):
        live_server.app.state.sittings.clear_away(grace_s=0.0)
        if rounds := rounds_of(live_server, "Bryn"):
            found_round = rounds[0]
            break
        time.sleep(0.1)
    assert found_round is not None
    assert found_round.standing == "void"
    assert found_round.why_void == "the page went away in the round"
    kept_s = sound_of(live_server, found_round).samples.size / rate
    assert kept_s >= (last - begun) / rate + 0.25 - 0.1


@pytest.mark.parametrize(
    ("script", "sentence"),
    [
        ("drummer.refused = 'NotAllowedError';", "The microphone was refused: allow it"),
        ("drummer.refused = 'NotFoundError';", "There is no microphone: plug one in"),
        ("delete window.AudioWorkletNode;", "This browser has no AudioWorkletNode"),
    ],
)
def test_what_a_browser_lacks_is_said(live_server, stand_page, script, sentence):
    """A microphone refused or missing, a browser without the parts: a sentence says what to do."""
    key = begin(live_server, "Orla")
    found = stand_page(key, script)
    until(found.page, "document.getElementById('sentence').textContent.length > 0")
    assert sentence in found.page.inner_text("#sentence")
    assert found.page.is_visible("#arm")


def test_two_tabs_on_one_workout(live_server, stand_page):
    """The second tab is told of the first, and may take over; the first is told then."""
    key = begin(live_server, "Orla")
    first = stand_page(key)
    until(first.page, "drummer.state !== undefined")
    second = stand_page(key)
    second.page.wait_for_selector("#take-over", state="visible")
    assert "open in another window" in second.page.inner_text("#sentence")
    second.page.click("#take-over")
    until(
        first.page,
        "document.getElementById('sentence').textContent.includes('took this workout over')",
    )
    second.page.click("#arm")
    until(second.page, "drummer.state?.phase === 'check'")


def test_figures_are_read_at_two_metres(live_server, stand_page):
    """On a 13-inch screen the big figure is 40 mm high or more, all words of the round 12 mm."""
    key = begin(live_server, "Orla", tempos=(110.0,), round_s=20.0)
    found = stand_page(key)
    until(found.page, "drummer.state?.phase === 'round'")
    until(found.page, "document.getElementById('figure').textContent === '2'")
    # 13.3 inches across at 16:10 and 1280 by 800 dots: 286 mm are 1280 dots.
    mm_per_dot = 286.0 / 1280.0
    heights = found.page.evaluate(
        """() => Object.fromEntries(['figure', 'line', 'next', 'where'].map((id) => {
          const style = getComputedStyle(document.getElementById(id));
          const ink = document.createElement('canvas').getContext('2d');
          ink.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
          return [id, ink.measureText(id === 'figure' ? '2' : 'H').actualBoundingBoxAscent];
        }))"""
    )
    assert heights["figure"] * mm_per_dot >= 40.0
    for name in ("line", "next", "where"):
        assert heights[name] * mm_per_dot >= 12.0
    box = found.page.evaluate(
        "[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
    )
    assert box[0] <= 1280
    assert box[1] <= 800


def says(page, words):
    """Wait until the stand says something."""
    until(page, f"document.getElementById('sentence').textContent.includes('{words}')")


def test_what_goes_wrong_in_a_round_is_said(live_server, stand_page):
    """A device plugged in, an interruption, a lost microphone: each voids its round, openly."""
    key = begin(live_server, "Petra", tempos=(110.0,), round_s=20.0)
    found = stand_page(key)
    page = found.page
    page.evaluate("drummer.wakes = false")
    troubles = {
        "A sound device was plugged in": "navigator.mediaDevices.enumerateDevices = async () =>"
        " [{ kind: 'audiooutput', deviceId: 'new' }];"
        " navigator.mediaDevices.dispatchEvent(new Event('devicechange'))",
        "The sound was interrupted": "drummer.context.suspend()",
        "The microphone was lost": "drummer.microphone.stream.getAudioTracks()[0]"
        ".dispatchEvent(new Event('ended'))",
    }
    for sentence, script in troubles.items():
        until(page, "drummer.state?.phase === 'waiting' && drummer.state.checked")
        page.wait_for_timeout(300)
        page.keyboard.press("Space")
        until(page, "drummer.state?.phase === 'round'")
        page.wait_for_timeout(1_500)
        page.evaluate(f"void ({script})" if ";" not in script else f"(() => {{ {script}; }})()")
        says(page, sentence)
    assert page.is_visible("#reload")
    for _ in range(100):
        rounds = rounds_of(live_server, "Petra")
        if len(rounds) == 3:
            break
        page.wait_for_timeout(100)
    assert [each.why_void for each in rounds] == ["device", "interrupted", "microphone"]
    assert all(sound_of(live_server, each).samples.size > 20_000 for each in rounds)


def test_the_screen_is_kept_awake(live_server, stand_page):
    """The screen is asked to stay awake, and asked again when the page comes back."""
    key = begin(live_server, "Orla")
    found = stand_page(
        key,
        "window.asked = 0; Object.defineProperty(navigator, 'wakeLock', { value:"
        " { request: async () => { window.asked += 1; return {}; } } });",
    )
    until(found.page, "window.asked === 1")
    found.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    until(found.page, "window.asked === 2")
    assert not found.page.is_visible("#sleepy")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_contrast_and_names_while_it_runs(live_server, stand_page, theme):
    """In a round all words stand out at 7 to 1, and nothing lacks a name; in both themes."""
    key = begin(live_server, "Orla", tempos=(110.0,), round_s=20.0)
    found = stand_page(key, theme=theme)
    until(found.page, "drummer.state?.phase === 'round'")
    until(found.page, "document.getElementById('where').textContent.length > 0")
    found.page.evaluate("document.getElementById('mark').hidden = false")
    for part in ("line", "figure", "where", "mark", "next", "sentence"):
        assert contrast(found.page, part) >= 7.0, part
    found.page.evaluate(AXE.read_text("utf-8"))
    results = found.page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    grave = [
        each["id"] for each in results["violations"] if each["impact"] in {"serious", "critical"}
    ]
    assert grave == []


def contrast(page, part):
    """Contrast of an element's ink with the paper, by the guidelines' formula.

    Source: W3C, Web Content Accessibility Guidelines 2.2, definition of contrast ratio.
    """
    ink, paper = page.evaluate(
        """(part) => [
          getComputedStyle(document.getElementById(part)).color,
          getComputedStyle(document.documentElement).backgroundColor,
        ].map((colour) => colour.match(/[\\d.]+/g).slice(0, 3).map(Number))""",
        part,
    )
    bright, dim = sorted((luminance(ink), luminance(paper)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def luminance(colour):
    """Relative luminance of a colour of 0 to 255."""
    linear = [
        share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4
        for share in (each / 255.0 for each in colour)
    ]
    return float(np.dot(linear, (0.2126, 0.7152, 0.0722)))


@pytest.fixture(scope="module")
def file_chromium(chromium, tmp_path_factory):
    """A Chromium whose microphone plays a file once, and that file's samples."""
    rate = 44_100
    rng = np.random.default_rng(17)
    samples = 0.05 * rng.standard_normal(60 * rate)
    # Smooth enough that a shift of one frame is seen and no filter is needed.
    samples = np.convolve(samples, np.hanning(12) / np.hanning(12).sum(), mode="same")
    samples[: rate // 2] = 0.0
    path = tmp_path_factory.mktemp("capture") / "noise.wav"
    soundfile.write(path, samples, rate, subtype="PCM_16")
    words = [
        *BROWSER_WORDS,
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-audio-capture={path}%noloop",
    ]
    browser = chromium.browser_type.launch(executable_path=chromium_path(), args=words)
    yield browser, soundfile.read(path)[0]
    browser.close()


def test_a_round_through_a_captured_file(live_server, file_chromium):
    """A round through the browser's own capture: residual under -40 dB everywhere, no gap."""
    browser, file = file_chromium
    key = begin(live_server, "Maren", tempos=(140.0,), round_s=5.0, play_out=True)
    context = browser.new_context(permissions=["microphone"])
    page = context.new_page()
    page.add_init_script(
        "const Real = AudioContext; window.AudioContext = class extends Real {"
        "constructor(options) { super({ ...options, sampleRate: 44100 }); } };"
    )
    page.goto(f"{live_server.url}/stand/{key}")
    page.click("#arm")
    until(page, "document.body.dataset.phase === 'waiting'")
    page.keyboard.press("Space")
    until(
        page,
        "['feel', 'rest', 'waiting'].includes(document.body.dataset.phase)"
        " && document.getElementById('next').textContent !== '1 of 2'",
    )
    until(page, "document.body.dataset.phase !== 'judging'")
    for _ in range(100):
        rounds = rounds_of(live_server, "Maren")
        if rounds:
            break
        page.wait_for_timeout(100)
    settings = rounds[0].take.told["capture"]["settings"]
    assert settings["echoCancellation"] is False
    assert settings["noiseSuppression"] is False
    assert settings["autoGainControl"] is False
    stored = sound_of(live_server, rounds[0])
    context.close()
    assert stored.sample_rate_hz == 44_100
    at = place_of(stored.samples, file)
    aligned = file[at : at + stored.samples.size]
    block = 441
    whole = aligned.size // block * block
    off = np.square(stored.samples[:whole] - aligned[:whole]).reshape(-1, block).mean(axis=1)
    power = np.square(aligned[:whole]).reshape(-1, block).mean(axis=1)
    residual_db = 10 * np.log10(off.max() / power.mean() + 1e-12)
    assert residual_db <= -40.0


def test_a_workout_is_taken_back(live_server, stand_page):
    """A window that was taken over from may take the workout back: its sound is checked anew."""
    key = begin(live_server, "Orla")
    first = stand_page(key)
    until(first.page, "drummer.state !== undefined")
    second = stand_page(key)
    second.page.wait_for_selector("#take-over", state="visible")
    second.page.click("#take-over")
    first.page.wait_for_selector("#take-over", state="visible")
    first.page.evaluate("drummer.wakes = false")
    first.page.click("#take-over")
    first.page.wait_for_timeout(500)
    first.page.click("#arm")
    until(first.page, "drummer.state?.phase === 'waiting' && drummer.state.checked")
    assert "The click comes back" in first.page.text_content("#checked")
    assert first.troubles == []


def test_two_presses_make_one_sound(live_server, open_page):
    """While the microphone is asked for, another press does nothing."""
    key = begin(live_server, "Orla")
    script = with_drummer("drummer.asked = 0;")
    found = open_page(f"{live_server.url}/stand/{key}", before=script)
    found.page.evaluate(
        """() => {
          const ask = navigator.mediaDevices.getUserMedia;
          navigator.mediaDevices.getUserMedia = async (...words) => {
            drummer.asked += 1;
            await new Promise((done) => setTimeout(done, 500));
            return ask(...words);
          };
          document.getElementById('arm').click();
          document.getElementById('arm').click();
        }"""
    )
    until(found.page, "drummer.state?.phase === 'check' && document.body.matches('.armed')")
    assert found.page.evaluate("drummer.asked") == 1


def test_a_microphone_that_was_pulled_out_is_gone_on_from(live_server, stand_page):
    """A microphone that goes with its device leaves the way on in sight."""
    key = begin(live_server, "Orla")
    found = stand_page(key)
    until(found.page, "document.body.matches('.armed')")
    found.page.wait_for_timeout(500)
    found.page.evaluate(
        """() => {
          drummer.microphone.stream.getAudioTracks()[0].dispatchEvent(new Event('ended'));
          navigator.mediaDevices.enumerateDevices = async () =>
            [{ kind: 'audiooutput', deviceId: 'new' }];
          navigator.mediaDevices.dispatchEvent(new Event('devicechange'));
        }"""
    )
    says(found.page, "A sound device was plugged in or taken away.")
    assert found.page.is_visible("#reload")
