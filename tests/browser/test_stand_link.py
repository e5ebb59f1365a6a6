"""The page's line to the server in a browser, with a server that the test plays."""

import pytest

SERVER = """
  class Line {
    static OPEN = 1;
    constructor() { Line.last = this; this.readyState = 1; this.sent = []; }
    send(data) { this.sent.push(typeof data === 'string' ? JSON.parse(data) : data.byteLength); }
    close() { this.readyState = 3; this.onclose?.(); }
    greet(state) {
      this.onopen();
      this.sent = [];
      this.onmessage({ data: JSON.stringify({ do: 'welcome', state }) });
    }
  }
  window.WebSocket = Line;
  const link = new (await import('/static/js/stand-link.js')).Link('', () => {}, () => {});
  const armed = (listens) => { link.arming = { kind: 'arm', listens }; };
  const again = async (state) => {
    Line.last.close();
    const lost = Line.last;
    for (let k = 0; Line.last === lost && k < 100; k += 1) {
      await new Promise((done) => setTimeout(done, 20));
    }
    Line.last.greet(state);
    return Line.last.sent;
  };
  const stroke = (frame) => ({ kind: 'pad', frame, note: 38, velocity: 90 });
  link.open();
  Line.last.greet({ checked: false });
"""


@pytest.fixture
def line(chromium, live_server):
    """Return a function that runs a script with a link, and the server's end of it."""
    page = chromium.new_page()
    page.goto(f"{live_server.url}/")
    yield lambda script: page.evaluate(f"(async () => {{ {SERVER} {script} }})()")
    page.close()


def kinds(sent):
    """What was sent, block by block, in a word each."""
    return [each if isinstance(each, int) else each["kind"] for each in sent]


def test_strokes_of_a_pad_outlive_a_break_of_the_line(line):
    """Strokes of the round are sent again in order, those that the line lost among them."""
    sent = line(
        """
        armed('pad');
        link.begin({ kind: 'begun', round: 'r' }, 0);
        link.strike(stroke(10));
        Line.last.readyState = 3;
        link.strike(stroke(20));
        return await again({ checked: true });
        """
    )
    assert kinds(sent) == ["arm", "begun", "pad", "pad"]
    assert [each["frame"] for each in sent[2:]] == [10, 20]


def test_strokes_of_another_round_are_not_sent_again(line):
    """Each round has its own strokes, and those of a rest are nobody's."""
    sent = line(
        """
        armed('pad');
        link.begin({ kind: 'begun', round: 'r' }, 0);
        link.strike(stroke(10));
        link.begun = null;
        link.strike(stroke(20));
        link.begin({ kind: 'begun', round: 's' }, 0);
        link.strike(stroke(30));
        return await again({ checked: true });
        """
    )
    assert [each["frame"] for each in sent if each["kind"] == "pad"] == [30]


@pytest.mark.parametrize(
    ("listens", "checked", "asks"),
    [("microphone", False, True), ("microphone", True, False), ("pad", False, False)],
)
def test_a_check_that_the_server_lost_is_asked_for_again(line, listens, checked, asks):
    """Where the line or the server was lost in the sound check, the page asks for it anew."""
    state = f"{{ checked: {str(checked).lower()} }}"
    sent = line(f"armed('{listens}'); return await again({state});")
    assert kinds(sent) == (["arm", "check"] if asks else ["arm"])


def test_sound_that_is_off_is_forgotten(line):
    """After another window took over nothing of the sound before is said or sent again."""
    sent = line(
        """
        armed('microphone');
        link.begin({ kind: 'begun', round: 'r' }, 0);
        link.sound(0, new Float32Array(4));
        link.forget();
        return await again({ checked: false });
        """
    )
    assert sent == []


def test_sound_that_was_not_kept_is_sent_again(line):
    """Of the round's sound the page sends again all from the frame on that the server has not."""
    sent = line(
        """
        armed('microphone');
        link.begin({ kind: 'begun', round: 'r' }, 0);
        link.sound(0, new Float32Array(4));
        link.sound(4, new Float32Array(5));
        link.sound(9, new Float32Array(6));
        return await again({ checked: true, have_frame: 4 });
        """
    )
    assert kinds(sent) == ["arm", "begun", 8 + 4 * 5, 8 + 4 * 6]
