"""Takes by a second hand: other sounds, players, failures, clicks, rooms and codecs.

``other_take(tier, seed)`` draws one take. The tiers follow the same ideas as those of
``loosehand.players`` but share no code with them:

``pad``      a pad close to the microphone, little else
``phone``    a phone in a bedroom: room, hiss, hum, automatic gain, click from a speaker
``hard``     click as loud as the strokes, counting aloud, more room, pumping, low bit rates
``nobody``   a click, a room, perhaps a voice, and no strokes
``hopeless`` takes that cannot be judged: buried, square, drowned by click, cut off, wrong tempo
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from bench_take import BenchTake, Truth
from numpy.typing import NDArray
from other_player import FAILURES, Played, Round, play
from other_sound import (
    SURFACES,
    add_at,
    counting_voice,
    make_click,
    make_instrument,
    pumped,
    room_response,
    shaped_noise,
    tone_filter,
)
from sound_files import encode

from loosehand.hear.heard import ListenRequest

__all__ = ["HOPELESS", "OTHER_TIERS", "other_take"]

FloatArray = NDArray[np.float64]
Generator = np.random.Generator
OTHER_TIERS = ("pad", "phone", "hard", "nobody", "hopeless")
HOPELESS = ("buried", "square", "drowned", "cut off", "wrong tempo")
_COUNT_IN = (2, 4, 4, 4, 8)


@dataclass(frozen=True)
class _Scene:
    """How it was recorded. Levels in dB against the median peak of a stroke."""

    noise_db: float
    click_db: float
    voice_db: float
    room_s: float
    wet: float
    pump: float
    drive: float
    low_hz: float
    high_hz: float
    rate_hz: int
    channels: int
    suffix: str
    bit_rate: int
    clock_ppm: float
    clicks_per_count: int = 1
    words: tuple[FloatArray, ...] = ()


def _codec(rng: Generator, tier: str) -> tuple[str, int, int]:
    """Suffix, bit rate and sample rate."""
    if tier == "pad":
        suffix = str(rng.choice([".wav", ".flac", ".m4a", ".m4a", ".mov", ".mp3"]))
        return suffix, int(rng.choice([128_000, 192_000])), int(rng.choice([44100, 48000]))
    suffix = str(
        rng.choice([".m4a", ".m4a", ".m4a", ".mp3", ".ogg", ".opus", ".webm", ".mp4", ".mov"])
    )
    bits = [64_000, 96_000, 128_000] if tier != "hard" else [32_000, 40_000, 64_000]
    rate_hz = 48000 if suffix in (".opus", ".webm") else int(rng.choice([44100, 48000]))
    if tier == "hard" and suffix in (".m4a", ".mp4") and rng.random() < 0.2:
        rate_hz = 32000
    bit_rate = int(rng.choice(bits))
    return suffix, max(bit_rate, 48_000) if suffix == ".ogg" else bit_rate, rate_hz


def _scene(rng: Generator, tier: str) -> _Scene:
    suffix, bit_rate, rate_hz = _codec(rng, tier)
    common = {"rate_hz": rate_hz, "suffix": suffix, "bit_rate": bit_rate}
    common |= {"channels": 2 if rng.random() < 0.3 else 1, "clock_ppm": rng.uniform(-50, 50)}
    if tier == "pad":
        return _Scene(
            noise_db=rng.uniform(-65, -50),
            click_db=float(rng.choice([-99.0, rng.uniform(-40, -22)])),
            voice_db=-99.0,
            room_s=0.2,
            wet=rng.uniform(0.0, 0.15),
            pump=0.0,
            drive=0.0,
            low_hz=rng.uniform(25, 60),
            high_hz=rng.uniform(14000, 19000),
            **common,
        )
    if tier in ("phone", "nobody"):
        return _Scene(
            noise_db=rng.uniform(-50, -34),
            click_db=float(rng.uniform(-26, -8)),
            voice_db=-99.0 if rng.random() < 0.85 else rng.uniform(-20, -12),
            room_s=rng.uniform(0.2, 0.45),
            wet=rng.uniform(0.2, 0.7),
            pump=float(rng.choice([0.0, 0.3, 0.5])),
            drive=float(rng.choice([0.0, 0.0, 1.5, 3.0])),
            low_hz=rng.uniform(70, 180),
            high_hz=rng.uniform(9000, 15000),
            **common,
        )
    return _Scene(
        noise_db=rng.uniform(-38, -24),
        click_db=float(rng.uniform(-6, 4)),
        voice_db=float(rng.choice([-99.0, rng.uniform(-12, 2)], p=[0.4, 0.6])),
        room_s=rng.uniform(0.35, 0.9),
        wet=rng.uniform(0.4, 1.2),
        pump=float(rng.choice([0.3, 0.6, 0.8])),
        drive=float(rng.choice([0.0, 2.0, 5.0])),
        low_hz=rng.uniform(100, 250),
        high_hz=rng.uniform(6000, 12000),
        **common,
    )


def _surface(rng: Generator, tier: str) -> str:
    if tier == "pad":
        return str(rng.choice(["rubber", "rubber", "mesh", "table", "snare"]))
    names = list(SURFACES) if tier == "hard" else ["rubber", "mesh", "table", "snare", "hat", "tom"]
    return str(rng.choice(names + ["cushion"] * (tier == "phone")))


def _round(rng: Generator, tier: str) -> Round:
    tempo_bpm = float(rng.choice([rng.integers(60, 141), round(rng.uniform(60, 140), 1)]))
    hands = str(rng.choice(["left", "right", "alternating"], p=[0.4, 0.35, 0.25]))
    places = int(rng.choice([4, 4, 4, 4, 3, 6])) if hands != "alternating" else 4
    if hands == "alternating" and rng.random() < 0.5 and tempo_bpm <= 125:
        places = 8
    if places == 6 and tempo_bpm > 110:
        places = 4
    round_s = float(rng.choice([60, 60, 60, 45, 30]))
    counts = int(tempo_bpm * round_s / 60)
    failure = "none" if rng.random() < 0.3 else str(rng.choice(list(FAILURES)))
    fails_at = float(rng.uniform(2, counts - 1)) if rng.random() < 0.9 else rng.uniform(0, 3)
    spread = float(np.clip(rng.lognormal(np.log(0.065), 0.35), 0.025, 0.13))
    return Round(tempo_bpm, counts, places, hands, failure, fails_at, spread)


def _track(
    rng: Generator, tier: str, scene: _Scene, played: Played, start_s: float, size: int
) -> tuple[FloatArray, FloatArray]:
    """Strokes in the room, and the exact times at which they begin."""
    drum = make_instrument(rng, _surface(rng, tier), scene.rate_hz)
    second = make_instrument(rng, drum.name, scene.rate_hz) if rng.random() < 0.5 else drum
    track = np.zeros(size)
    at = np.round((start_s + played.time_s) * scene.rate_hz).astype(np.int64)
    middle_db = float(np.median(played.level_db)) if played.level_db.size else 0.0
    for sample, level_db, hand in zip(at, played.level_db - middle_db, played.hand, strict=True):
        tool = second if hand == 0 and np.ptp(played.hand) else drum
        add_at(track, tool.stroke(rng, float(level_db)), int(sample))
    return track, at / scene.rate_hz


def _click_track(
    rng: Generator, scene: _Scene, start_s: float, period_s: float, before: int, size: int
) -> FloatArray:
    """Sound the click through its speaker, from the count-in to the end."""
    plain, downbeat, _ = make_click(rng, scene.rate_hz)
    track = np.zeros(size)
    meter = int(rng.choice([1, 4, 4, 3]))
    each = scene.clicks_per_count
    for step in range(-before * each, int((size / scene.rate_hz - start_s) / period_s * each) + 1):
        sound = downbeat if meter > 1 and step % (meter * each) == 0 else plain
        add_at(track, sound, round((start_s + step * period_s / each) * scene.rate_hz))
    if rng.random() < 0.7:
        track = tone_filter(track, scene.rate_hz, rng.uniform(200, 500), rng.uniform(5000, 12000))
    return track / max(float(np.max(np.abs(track))), 1e-9)


def _voice_track(
    rng: Generator,
    scene: _Scene,
    words: tuple[FloatArray, ...],
    start_s: float,
    period_s: float,
    size: int,
) -> FloatArray:
    """Somebody counts aloud, roughly with the click, all through or for some of the counts."""
    track = np.zeros(size)
    share = rng.choice([0.3, 1.0])
    late_s = rng.normal(-0.03, 0.02)
    for count in range(-4, int((size / scene.rate_hz - start_s) / period_s)):
        if rng.random() < share:
            at_s = start_s + count * period_s + late_s + rng.normal(0, 0.03)
            loud = 10 ** (rng.normal(0, 2) / 20)
            add_at(track, words[count % 4] * loud, round(at_s * scene.rate_hz))
    return track


def _knocks(rng: Generator, tier: str, rate_hz: int, size: int) -> FloatArray:
    """Sounds of a house: a few dull thuds and clinks, rarely near the level of a stroke."""
    track = np.zeros(size)
    for _ in range(int(rng.poisson({"pad": 0.0, "phone": 1.0, "nobody": 1.0}.get(tier, 2.0)))):
        thing = make_instrument(rng, str(rng.choice(["cushion", "table", "tom"])), rate_hz)
        level_db = rng.uniform(-24, -10)
        add_at(track, thing.stroke(rng, level_db), int(rng.uniform(0, size)))
    return track


def _in_room(rng: Generator, scene: _Scene, track: FloatArray) -> FloatArray:
    from scipy.signal import oaconvolve

    if scene.wet < 0.02:
        return track
    response = room_response(rng, scene.rate_hz, scene.room_s, scene.wet)
    return oaconvolve(track, response)[: track.size]


def _recorded(rng: Generator, scene: _Scene, mix: FloatArray) -> NDArray[np.float64]:
    """Through the phone: its microphone, gain, clipping and channels."""
    sound = tone_filter(mix, scene.rate_hz, scene.low_hz, scene.high_hz, 1)
    if scene.pump:
        sound = pumped(sound, scene.rate_hz, rng.uniform(0.15, 0.8), scene.pump)
    peak = float(np.percentile(np.abs(sound), 99.97)) or 1.0
    loud = 10 ** (rng.uniform(-14, -3) / 20) if not scene.drive else 10 ** (scene.drive / 20)
    sound = np.clip(sound / peak * loud, -0.98, 0.98)
    if scene.channels == 1:
        return sound[None, :]
    side = 0.002 * rng.standard_normal(sound.size)
    return np.stack([sound + side, (sound - side) * rng.uniform(0.5, 1.0)])


def _request(rng: Generator, tier: str, wanted: Round, start_s: float) -> ListenRequest:
    """Tell mostly tempo, places and hand; count 1 and the length only now and then."""
    whole_minute = wanted.counts == int(wanted.tempo_bpm)
    return ListenRequest(
        tempo_bpm=wanted.tempo_bpm if rng.random() < 0.9 else None,
        places_per_count=wanted.places,
        hand=wanted.hands,
        counts_planned=None if whole_minute and rng.random() < 0.5 else wanted.counts,
        first_count_s=start_s if rng.random() < 0.1 else None,
    )


def _nothing(played: Played) -> Played:
    none = np.zeros(0)
    whole = np.zeros(0, dtype=np.int64)
    return replace(played, time_s=none, level_db=none, hand=whole, place=whole)


def _mix(
    rng: Generator, tier: str, scene: _Scene, played: Played, wanted: Round, start_s: float
) -> tuple[FloatArray, FloatArray, float]:
    """Sum all that sounds; give true stroke times and the true count period too."""
    stretch = 1.0 + scene.clock_ppm * 1e-6
    period_s = 60.0 / wanted.tempo_bpm * stretch
    length_s = start_s + wanted.counts * period_s + rng.uniform(0.3, 2.0)
    size = int(length_s * scene.rate_hz)
    played = replace(played, time_s=played.time_s * stretch)
    strokes, stroke_s = _track(rng, tier, scene, played, start_s, size)
    before = min(int(start_s / period_s), int(rng.choice(_COUNT_IN)))
    mix = _in_room(rng, scene, strokes + _knocks(rng, tier, scene.rate_hz, size))
    click = _click_track(rng, scene, start_s, period_s, before, size)
    mix += 10 ** (scene.click_db / 20) * _in_room(rng, scene, click)
    if scene.voice_db > -90:
        words = scene.words or tuple(counting_voice(rng, scene.rate_hz, at) for at in range(4))
        voice = _voice_track(rng, scene, words, start_s, period_s, size)
        mix += 10 ** (scene.voice_db / 20) * _in_room(rng, scene, voice)
    mix += 10 ** (scene.noise_db / 20) / 3 * shaped_noise(rng, size, scene.rate_hz)
    return mix, stroke_s, period_s


Words = Callable[[int, int], tuple[FloatArray, ...]]


def other_take(tier: str, seed: int, *, words: Words | None = None) -> BenchTake:
    """Draw one take of a tier; the same seed gives the same bytes with the same codecs.

    ``words`` gives, for a seed and a sample rate, four counted words by another voice; the take
    then always has somebody counting, and is named apart.
    """
    rng = np.random.default_rng([OTHER_TIERS.index(tier), seed, 7919])
    base = "phone" if tier == "hopeless" else tier
    why = HOPELESS[seed % len(HOPELESS)] if tier == "hopeless" else ""
    scene, wanted = _scene(rng, base), _round(rng, base)
    scene, wanted = _spoil(rng, scene, wanted, why)
    if words is not None:
        voice_db = max(scene.voice_db, float(rng.uniform(-12, 2)))
        scene = replace(scene, words=words(seed, scene.rate_hz), voice_db=voice_db)
    played = play(rng, wanted)
    if tier == "nobody":
        played = _nothing(played)
    count_in_s = int(rng.choice(_COUNT_IN)) * 60.0 / wanted.tempo_bpm
    start_s = float(rng.uniform(0.3, 2.5) + count_in_s)
    mix, stroke_s, period_s = _mix(rng, base, scene, played, wanted, start_s)
    samples = _spoil_sound(rng, _recorded(rng, scene, mix), scene, why, start_s)
    data = encode(samples, rate_hz=scene.rate_hz, suffix=scene.suffix, bit_rate=scene.bit_rate)
    request = _request(rng, base, wanted, start_s)
    if why == "wrong tempo":
        factor = float(rng.choice([0.83, 0.88, 1.13, 1.21]))
        request = replace(request, tempo_bpm=round(wanted.tempo_bpm * factor, 1))
    keep = stroke_s < samples.shape[1] / scene.rate_hz - 0.005
    truth = Truth(
        stroke_s=stroke_s[keep],
        level_db=played.level_db[keep],
        hand=played.hand[keep],
        place=played.place[keep],
        first_count_s=start_s,
        count_period_s=period_s,
        counts_offered=wanted.counts,
        places_per_count=wanted.places,
        hands=wanted.hands,
        plays=tier != "nobody",
        judgeable=tier != "hopeless",
        kind=why or wanted.failure,
        place_shift_ms=played.place_shift_ms,
        place_level_db=played.place_level_db,
    )
    name = f"other-{tier}" if words is None else "spoken"
    return BenchTake(f"{name}-{seed}", name, data, scene.suffix, request, truth)


def _spoil(rng: Generator, scene: _Scene, wanted: Round, why: str) -> tuple[_Scene, Round]:
    """Make a scene hopeless."""
    if why == "buried":
        return replace(scene, noise_db=rng.uniform(8, 20), click_db=-6.0, pump=0.0), wanted
    if why == "square":
        return replace(scene, noise_db=-20.0, drive=45.0), wanted
    if why == "drowned":
        loud = replace(scene, click_db=rng.uniform(28, 40), noise_db=-3.0, pump=0.0, drive=0.0)
        return replace(loud, clicks_per_count=wanted.places), wanted
    return scene, replace(wanted, failure="none") if why == "wrong tempo" else wanted


def _spoil_sound(
    rng: Generator, samples: FloatArray, scene: _Scene, why: str, start_s: float
) -> FloatArray:
    """Cut the recording off before anything can be told."""
    if why != "cut off":
        return samples
    return samples[:, : int((start_s + rng.uniform(0.1, 0.7)) * scene.rate_hz)]
