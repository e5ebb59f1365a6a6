"""A page without a browser, in a room with a drummer: for the tests of the stand.

The page does as it is told: it plays clicks and cues into the room, sends what the microphone
hears block by block, and keeps what was not acknowledged. The drummer plays what the test says.
"""

import numpy as np

RATE_HZ = 48_000
BLOCK = 1408
ROUND_TRIP_S = 0.043
CLICK_GAIN = 0.25
AHEAD_S = 0.3
TWO_TO_23 = 2.0**23


def steady(counts, places, *, sd_s=0.006, seed=1, until=None):
    """A hand's asynchronies: place numbers and how far off each stroke falls, in seconds."""
    rng = np.random.default_rng(seed)
    place = np.arange(counts * places if until is None else until)
    return place, rng.normal(0.0, sd_s, place.size)


def knock(rng, level):
    """The sound of a stroke on a pad."""
    since_s = np.arange(round(0.08 * RATE_HZ)) / RATE_HZ
    noise = rng.normal(0.0, 0.1, since_s.size) * np.exp(-since_s / 0.006)
    return level * (noise + 0.2 * np.sin(2 * np.pi * 320.0 * since_s) * np.exp(-since_s / 0.015))


class PageAndRoom:
    """A page, its room and its drummer.

    Parameters
    ----------
    send : takes a text message (a dictionary) or a binary one (bytes)
    play_round : called with what is planned; gives place numbers and asynchronies in seconds
    feels : strokes given as an answer after each round, in order
    """

    def __init__(self, send, *, play_round, feels=(1,), seed=3, silent_mic=False):
        self.send = send
        self.play_round = play_round
        self.feels = list(feels)
        self.rng = np.random.default_rng(seed)
        self.frame = 4_000
        self.sound = {}
        self.sounds = {}
        self.state = {"phase": "check"}
        self.results = []
        self.said = []
        self.strokes = []
        self.marks = []
        self.over = []
        self.checked = None
        self.begun = None
        self.sent = []
        self.unacked = []
        self.woke = False
        self.ends_frame = None
        self.silent_mic = silent_mic
        self.clicks_on = {}

    # ------------------------------------------------------------ room

    def sound_at(self, frame, wave):
        """Let something sound in the room."""
        self.sound.setdefault("events", []).append((int(frame), wave))

    def strike(self, frame, level=1.0):
        """Strike once."""
        self.sound_at(frame, knock(self.rng, level * self.rng.uniform(0.8, 1.2)))

    def microphone(self, first, size):
        """What the microphone hears."""
        heard = self.rng.normal(0.0, 1e-4, size)
        kept = []
        for start, wave in self.sound.get("events", []):
            low, high = max(start, first), min(start + wave.size, first + size)
            if high > low:
                heard[low - first : high - first] += wave[low - start : high - start]
            if start + wave.size > first + size:
                kept.append((start, wave))
        self.sound["events"] = kept
        return heard.astype(np.float32)

    # ------------------------------------------------------------ page

    def arm(self, **more):
        """Press the button."""
        settings = {"echoCancellation": False, "noiseSuppression": False, "autoGainControl": False}
        self.send(
            {
                "kind": "arm",
                "rate": RATE_HZ,
                "listens": "microphone",
                "settings": settings,
                "latency_s": 0.02,
            }
            | more
        )
        self.send({"kind": "check"})

    def block(self):
        """The next block as it is sent."""
        samples = self.microphone(self.frame, BLOCK)
        data = np.array([self.frame], dtype="<f8").tobytes() + samples.astype("<f4").tobytes()
        self.sent.append((self.frame, samples))
        self.frame += BLOCK
        return data

    def step(self):
        """Let a block of time pass."""
        data = self.block()
        self.unacked.append((self.frame, data))
        self.send(data)
        self.play_drummer()

    def take(self, message):
        """Do as the server says."""
        taker = getattr(self, "do_" + message["do"])
        taker(message)

    def do_sounds(self, message):
        self.sounds = {role: np.asarray(wave) for role, wave in message["sounds"].items()}

    def do_play(self, message):
        first = self.frame + int(AHEAD_S * RATE_HZ)
        for click in message["clicks"]:
            if click["role"] is not None:
                at = first + round((click["at_s"] + ROUND_TRIP_S) * RATE_HZ)
                wave = CLICK_GAIN * self.sounds[click["role"]]
                self.sound_at(at, wave)
                self.clicks_on[at] = wave
        self.begun = {"kind": "begun", "round": message["round"], "frame": first}
        if message["round"] == "check":
            for k in range(4):
                self.strike(first + int((7.0 + 0.5 * k) * RATE_HZ))
        else:
            self.begun["index"] = message["index"]
            self.plan_strokes(message, first)
        self.send(self.begun)

    def plan_strokes(self, message, first):
        """The drummer plays to the clicks as they sound in the room."""
        planned = self.state["planned"]
        place, off_s = self.play_round(planned)
        count_in = sum(click["count"] < 1 for click in message["clicks"])
        place_s = 60.0 / planned["tempo_bpm"] / planned["places_per_count"]
        first_s = count_in * 60.0 / planned["tempo_bpm"]
        self.true_s = first_s + np.asarray(place) * place_s + off_s
        self.round_first = first
        for at_s in self.true_s:
            self.strike(first + round((at_s + ROUND_TRIP_S) * RATE_HZ))

    def do_hush(self, _message):
        """Clicks that have not sounded yet are taken back, and the drummer stops."""
        self.sound["events"] = [each for each in self.sound["events"] if each[0] < self.frame]

    def do_cue(self, message):
        at = message["frame"] + int(ROUND_TRIP_S * RATE_HZ)
        since_s = np.arange(round(0.1 * RATE_HZ)) / RATE_HZ
        self.sound_at(at, 0.1 * np.sin(2 * np.pi * 880 * since_s) * np.exp(-since_s / 0.03))

    def do_show(self, message):
        before, self.state = self.state, message["state"]
        if self.state["phase"] == "feel" and before.get("phase") != "feel":
            strokes = self.feels.pop(0) if self.feels else 0
            for k in range(strokes):
                self.strike(self.frame + int((1.2 + 0.4 * k) * RATE_HZ))

    def play_drummer(self):
        """Four strokes wake the first round."""
        if self.state.get("phase") == "waiting" and not self.woke and self.checked:
            self.woke = True
            for k in range(4):
                self.strike(self.frame + int((0.3 + 0.4 * k) * RATE_HZ))

    def do_checked(self, message):
        self.checked = message

    def do_strokes(self, message):
        self.strokes.append(message)

    def do_mark(self, message):
        self.marks.append(message["held"])

    def do_ack(self, message):
        self.unacked = [each for each in self.unacked if each[0] > message["frame"]]

    def do_result(self, message):
        self.results.append(message["result"])

    def do_say(self, message):
        self.said.append(message["sentence"])

    def do_over(self, message):
        self.over.append(message["round"])
        self.do_hush(message)

    def do_welcome(self, message):
        self.state = message["state"]
