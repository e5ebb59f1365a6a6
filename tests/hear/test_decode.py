"""Files in: every format comes out in place, and every bad file as one sentence."""

import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from loosehand.errors import InputError, LoosehandError, UnreadableAudio
from loosehand.hear.decode import open_sound, read_midi, read_mono, sniff
from tests.hear.recordings import click_train, encode, lag_frames

VORBIS = {"strict": "-2"}

# name, container, codec, rate, codec options, container options, stereo
ENCODED = [
    ("phone.m4a", "ipod", "aac", 48000, None, None, False),
    ("phone44.m4a", "ipod", "aac", 44100, None, None, True),
    ("low.m4a", "ipod", "aac", 8000, None, None, False),
    ("film.mp4", "mp4", "aac", 48000, None, None, True),
    ("film.mov", "mov", "aac", 44100, None, None, False),
    ("whole.m4a", "ipod", "alac", 48000, None, None, False),
    ("pieces.mp4", "mp4", "aac", 48000, None, {"movflags": "frag_keyframe+delay_moov"}, False),
    ("bare.aac", "adts", "aac", 48000, None, None, False),
    ("bare44.aac", "adts", "aac", 44100, None, None, True),
    ("gapless.mp3", "mp3", "libmp3lame", 44100, None, None, False),
    ("gapless22.mp3", "mp3", "libmp3lame", 22050, None, None, True),
    ("plain.mp3", "mp3", "libmp3lame", 44100, None, {"write_xing": "0"}, False),
    ("plain48.mp3", "mp3", "libmp3lame", 48000, None, {"write_xing": "0"}, True),
    ("plain22.mp3", "mp3", "libmp3lame", 22050, None, {"write_xing": "0"}, False),
    ("talk.ogg", "ogg", "vorbis", 44100, VORBIS, None, True),
    ("talk.opus", "ogg", "libopus", 48000, None, None, False),
    ("web.webm", "webm", "libopus", 48000, None, None, False),
    ("web2.webm", "webm", "vorbis", 48000, VORBIS, None, True),
    ("case.mka", "matroska", "aac", 48000, None, None, False),
    ("opus.mp4", "mp4", "libopus", 48000, None, None, False),
    ("air.ts", "mpegts", "aac", 48000, None, None, False),
    ("no_edit_list.mp4", "mp4", "aac", 48000, None, {"use_editlist": "0"}, False),
]

# name, libsndfile format, subtype, rate, channels
STORED = [
    ("u8.wav", "WAV", "PCM_U8", 8000, 1),
    ("s16.wav", "WAV", "PCM_16", 44100, 2),
    ("s24.wav", "WAV", "PCM_24", 48000, 1),
    ("s32.wav", "WAV", "PCM_32", 96000, 1),
    ("f32.wav", "WAV", "FLOAT", 192000, 1),
    ("f64.wav", "WAV", "DOUBLE", 48000, 2),
    ("ulaw.wav", "WAV", "ULAW", 8000, 1),
    ("extended.wav", "WAVEX", "PCM_24", 48000, 8),
    ("long.wav", "RF64", "PCM_16", 48000, 1),
    ("long.w64", "W64", "PCM_16", 48000, 1),
    ("s16.flac", "FLAC", "PCM_16", 48000, 2),
    ("s24.flac", "FLAC", "PCM_24", 96000, 8),
    ("s16.aiff", "AIFF", "PCM_16", 44100, 1),
    ("s24.aiff", "AIFF", "PCM_24", 48000, 2),
    ("s16.caf", "CAF", "PCM_16", 48000, 1),
    ("other.ogg", "OGG", "VORBIS", 44100, 1),
    ("other.mp3", "MP3", "MPEG_LAYER_III", 44100, 1),
    ("other.opus", "OGG", "OPUS", 48000, 1),
]


def _written(tmp_path, case):
    name, container, codec, rate, codec_options, container_options, stereo = case
    clicks = click_train(rate)
    samples = np.stack([clicks, clicks], axis=1) if stereo else clicks
    path = encode(
        tmp_path / name,
        samples,
        sample_rate_hz=rate,
        container=container,
        codec=codec,
        codec_options=codec_options,
        container_options=container_options,
    )
    return path, clicks


def _patched(path, name, old, new):
    data = path.read_bytes()
    assert data.count(old) >= 1
    other = path.with_name(name)
    other.write_bytes(data.replace(old, new))
    return other


@pytest.mark.parametrize("case", ENCODED, ids=lambda case: case[0])
def test_encoded_clicks_come_out_where_they_were_written(tmp_path, case):
    """Time 0 is the first sample after priming, in every codec and container."""
    path, clicks = _written(tmp_path, case)
    sound = read_mono(path, longest_s=60.0)
    assert sound.sample_rate_hz == case[3]
    assert abs(lag_frames(clicks, sound.samples)) <= 1
    assert abs(sound.samples.size - clicks.size) <= 2048
    assert sound.notes == ()


@pytest.mark.parametrize("case", STORED, ids=lambda case: case[0])
def test_stored_samples_come_out_in_place_and_at_level(tmp_path, case):
    """Files of another writer come out at their own rate, with every channel, in place."""
    name, container, subtype, rate, channels = case
    clicks = click_train(rate)
    path = tmp_path / name
    soundfile.write(
        path, np.repeat(clicks[:, None], channels, axis=1), rate, format=container, subtype=subtype
    )
    with open_sound(path) as file:
        assert (file.sample_rate_hz, file.channels) == (rate, channels)
        samples = np.concatenate(list(file.blocks()))
        assert file.notes == ()
    assert samples.shape == (clicks.size, channels)
    assert lag_frames(clicks, samples[:, -1]) == 0
    assert samples.max() == pytest.approx(clicks.max(), rel=0.1)


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
def test_uncompressed_samples_come_out_exactly(tmp_path, subtype):
    """No sample of a plain file is changed by more than its own rounding."""
    clicks = click_train(48000)
    path = tmp_path / "exact.wav"
    soundfile.write(path, clicks, 48000, subtype=subtype)
    read = read_mono(path, longest_s=60.0).samples
    bits = {"PCM_16": 15, "PCM_24": 23}.get(subtype, 24)
    assert np.max(np.abs(read - clicks)) <= 2.0**-bits


def test_the_tail_of_aac_ends_where_the_file_says(tmp_path):
    """The padding that fills the last AAC packet is cut where the container knows its length."""
    path, clicks = _written(tmp_path, ENCODED[0])
    assert read_mono(path, longest_s=60.0).samples.size == clicks.size


def test_an_edit_list_is_honoured_to_the_sample(tmp_path):
    """A file that declares 2,112 samples of priming, as some phones do, starts 2,112 in."""
    path, clicks = _written(tmp_path, ENCODED[0])
    entry = bytes.fromhex("00000001 00000bb8")
    other = _patched(
        path, "edited.m4a", entry + (1024).to_bytes(4, "big"), entry + (2112).to_bytes(4, "big")
    )
    assert lag_frames(clicks, read_mono(other, longest_s=60.0).samples) == 1024 - 2112


@pytest.mark.parametrize(
    ("case", "frames"), [(7, 1024), (11, 1105), (12, 1105), (13, 1105), (20, 1024), (21, 1024)]
)
def test_assumed_priming_is_said(tmp_path, case, frames):
    """Where a file does not declare its priming, the frames left out are named."""
    path, _ = _written(tmp_path, ENCODED[case])
    (sentence,) = read_mono(path, longest_s=60.0).assumed
    assert f"the usual {frames} samples" in sentence


def test_declared_priming_is_not_said(tmp_path):
    """Nothing is assumed where the file declares its priming."""
    for case in (ENCODED[0], ENCODED[9], ENCODED[15], ENCODED[16]):
        path, _ = _written(tmp_path, case)
        assert read_mono(path, longest_s=60.0).assumed == ()


def test_an_mp3_header_without_encoder_delay_gets_the_usual_one(tmp_path):
    """A gapless header that leaves the encoder's delay at nought is not believed."""
    path, clicks = _written(tmp_path, ENCODED[9])
    data = bytearray(path.read_bytes())
    tag = data.index(b"Lav", data.index(b"Info"))
    assert int.from_bytes(data[tag + 21 : tag + 24], "big") >> 12 == 576
    data[tag + 21 : tag + 24] = (int.from_bytes(data[tag + 21 : tag + 24], "big") & 0xFFF).to_bytes(
        3, "big"
    )
    path.write_bytes(data)
    sound = read_mono(path, longest_s=60.0)
    assert lag_frames(clicks, sound.samples) == 0
    assert "576 samples" in sound.assumed[0]


@pytest.mark.parametrize(
    ("container", "codec", "name"),
    [("webm", "libopus", "gap.webm"), ("matroska", "aac", "gap.mka"), ("mp4", "aac", "gap.mp4")],
)
def test_lost_packets_leave_silence_of_their_length(tmp_path, container, codec, name):
    """Clicks after a gap in the time stamps keep their places."""
    clicks = click_train(48000)
    path = encode(
        tmp_path / name,
        clicks,
        sample_rate_hz=48000,
        container=container,
        codec=codec,
        drop_packets=range(60, 75),
    )
    sound = read_mono(path, longest_s=60.0)
    after = 90_000
    assert abs(lag_frames(clicks[after:], sound.samples[after : clicks.size])) <= 1
    assert abs(sound.samples.size - clicks.size) <= 2048
    assert any(note.startswith("Gaps in the time stamps") for note in sound.notes)


def test_a_wrong_name_does_not_matter(tmp_path):
    """A file is known by its content."""
    path, clicks = _written(tmp_path, ENCODED[0])
    for name in ("take.wav", "take.mp3", "take", "take.txt", "täke ☂.mid"):
        other = tmp_path / name
        other.write_bytes(path.read_bytes())
        assert sniff(other) == "sound"
        assert lag_frames(clicks, read_mono(other, longest_s=60.0).samples) == 0


def _midi_bytes():
    return bytes.fromhex("4d546864 00000006 0000 0001 0060 4d54726b 00000008 00903c40 00ff2f00")


def test_midi_is_known_by_its_content(tmp_path):
    """A MIDI file is told from sound whatever its name, also in its RIFF wrapper."""
    bare = tmp_path / "take.wav"
    bare.write_bytes(_midi_bytes())
    wrapped = tmp_path / "take.rmi"
    wrapped.write_bytes(b"RIFF" + bytes(4) + b"RMIDdata" + bytes(4) + _midi_bytes())
    assert [sniff(bare), sniff(wrapped)] == ["midi", "midi"]
    assert len(read_midi(bare).notes) == len(read_midi(wrapped).notes) == 1


def test_a_file_is_not_taken_for_an_address(tmp_path, monkeypatch):
    """A name that looks like an address or a list of files is only a name."""
    monkeypatch.chdir(tmp_path)
    for name in ("http:take.wav", "concat:a|b", "-"):
        with pytest.raises(InputError, match="no such file"):
            open_sound(name)


def test_a_playlist_is_not_followed(tmp_path):
    """A file that points at others is refused, though the others could be read."""
    path, _ = _written(tmp_path, ENCODED[7])
    playlist = tmp_path / "list.m3u8"
    playlist.write_text(f"#EXTM3U\n#EXTINF:3,\n{path.name}\n")
    with pytest.raises(UnreadableAudio, match="not a sound file"):
        open_sound(playlist)


def test_missing_folder_and_empty_are_refused(tmp_path):
    """A path that leads to no file, to a folder or to nothing is refused in a sentence."""
    (tmp_path / "empty.wav").touch()
    for read in (sniff, open_sound, read_midi):
        with pytest.raises(InputError, match="there is no such file"):
            read(tmp_path / "missing.wav")
        with pytest.raises(InputError, match="it is a folder"):
            read(tmp_path)
        with pytest.raises(UnreadableAudio, match="the file is empty"):
            read(tmp_path / "empty.wav")
        with pytest.raises(InputError, match="cannot be opened"):
            read(tmp_path / ("a" * 300))


def test_text_called_sound_is_refused(tmp_path):
    """Text with a sound file's name is no sound."""
    path = tmp_path / "notes.wav"
    path.write_text("warm up first\n" * 500)
    with pytest.raises(UnreadableAudio, match=r"notes\.wav: it is not a sound file"):
        open_sound(path)


def test_noise_called_sound_is_refused(tmp_path):
    """Random bytes are no sound, whatever the format guessed."""
    for seed in range(5):
        path = tmp_path / f"{seed}.mp3"
        path.write_bytes(np.random.default_rng(seed).bytes(100_000))
        with pytest.raises(UnreadableAudio):
            read_mono(path, longest_s=600.0)


def test_a_picture_without_sound_is_refused(tmp_path):
    """A film with no sound track says so."""
    import av

    path = tmp_path / "mute.mp4"
    with av.open(str(path), "w") as output:
        stream = output.add_stream("mpeg4", rate=25)
        stream.width = stream.height = 64
        for _ in range(5):
            frame = av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")
            output.mux(stream.encode(frame))
        output.mux(stream.encode(None))
    with pytest.raises(UnreadableAudio, match="a picture but no sound"):
        open_sound(path)


def test_the_sound_of_a_film_is_read(tmp_path):
    """Of a file with picture and sound only the sound is read."""
    import av

    clicks = click_train(48000)
    path = tmp_path / "film.mp4"
    with av.open(str(path), "w") as output:
        picture = output.add_stream("mpeg4", rate=25)
        picture.width = picture.height = 64
        sound = output.add_stream("aac", rate=48000, layout="mono")
        for number in range(75):
            frame = av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")
            frame.pts = number
            output.mux(picture.encode(frame))
        for start in range(0, clicks.size, 1024):
            frame = av.AudioFrame.from_ndarray(
                clicks[None, start : start + 1024], format="fltp", layout="mono"
            )
            frame.sample_rate, frame.pts = 48000, start
            output.mux(sound.encode(frame))
        output.mux(picture.encode(None))
        output.mux(sound.encode(None))
    assert lag_frames(clicks, read_mono(path, longest_s=60.0).samples) == 0


def test_encrypted_sound_is_refused(tmp_path):
    """Encrypted sound is named as such: by common encryption, and by a shop's own."""
    keys = {
        "encryption_scheme": "cenc-aes-ctr",
        "encryption_key": "76a6c65c5ea762046bd749a2e632ccbb",
        "encryption_kid": "a7e61c373e219033c21091fa607bf3b8",
    }
    locked, _ = _written(tmp_path, ("locked.mp4", "mp4", "aac", 48000, None, keys, False))
    plain, _ = _written(tmp_path, ENCODED[0])
    bought = _patched(plain, "bought.m4p", b"mp4a", b"drms")
    for path in (locked, bought):
        with pytest.raises(UnreadableAudio, match="it is encrypted"):
            open_sound(path)


def test_a_recording_cut_off_before_its_index_says_so(tmp_path):
    """An MP4 whose index was never written cannot be read, and the sentence says why."""
    path, _ = _written(tmp_path, ENCODED[0])
    path.write_bytes(path.read_bytes()[:-2000])
    with pytest.raises(UnreadableAudio, match="cut off before its index was written"):
        open_sound(path)


CUT = [
    ("cut.m4a", "ipod", "aac", 48000, None, {"movflags": "faststart"}, False),
    ENCODED[6],
    ENCODED[9],
    ENCODED[14],
    ENCODED[15],
    ENCODED[16],
]


@pytest.mark.parametrize("case", CUT, ids=lambda case: case[0])
def test_what_is_there_of_a_cut_off_recording_is_read(tmp_path, case):
    """Half a file gives about half its sound, in place, with a note that says so."""
    path, clicks = _written(tmp_path, case)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    sound = read_mono(path, longest_s=60.0)
    assert 0.25 < sound.samples.size / clicks.size < 0.75
    assert abs(lag_frames(clicks[: sound.samples.size], sound.samples)) <= 1
    assert "cut off" in sound.notes[0]


@pytest.mark.parametrize("container", ["WAV", "FLAC", "AIFF"])
def test_a_cut_off_stored_recording_says_so(tmp_path, container):
    """The header of a plain file promises more than there is, and the note says how much."""
    path = tmp_path / "cut"
    soundfile.write(path, click_train(48000), 48000, format=container, subtype="PCM_16")
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    sound = read_mono(path, longest_s=60.0)
    assert sound.samples.size > 48000
    assert "cut off: it announces 3.00 s" in sound.notes[0]


def test_a_wav_header_that_knows_no_length_is_no_fault(tmp_path):
    """A recorder that never went back to write its length left all its sound."""
    path = tmp_path / "streamed.wav"
    soundfile.write(path, click_train(48000), 48000, subtype="PCM_16")
    data = bytearray(path.read_bytes())
    data[4:8] = b"\xff" * 4
    place = data.index(b"data") + 4
    data[place : place + 4] = b"\xff" * 4
    path.write_bytes(data)
    sound = read_mono(path, longest_s=60.0)
    assert (sound.samples.size, sound.notes) == (144000, ())


def test_damage_in_the_middle_keeps_what_follows_in_place(tmp_path):
    """Packets that cannot be decoded are silence, and the clicks after them keep their places."""
    path, clicks = _written(tmp_path, ENCODED[0])
    data = bytearray(path.read_bytes())
    start = data.index(b"mdat") + 8000
    data[start : start + 600] = np.random.default_rng(5).bytes(600)
    path.write_bytes(data)
    sound = read_mono(path, longest_s=60.0)
    assert lag_frames(clicks[96000:], sound.samples[96000 : clicks.size]) == 0


def test_samples_that_are_no_numbers_are_silence(tmp_path):
    """Not-a-number, infinity and absurd levels do not reach the ear."""
    clicks = click_train(48000)
    clicks[100:103] = [np.nan, np.inf, 1e30]
    path = tmp_path / "broken.wav"
    soundfile.write(path, clicks, 48000, subtype="FLOAT")
    sound = read_mono(path, longest_s=60.0)
    assert sound.samples[100:103].tolist() == [0.0, 0.0, 0.0]
    assert sound.notes == ("Samples that no sound can have, taken as silence: 3.",)


def test_silence_is_sound(tmp_path):
    """A silent recording is read as what it is."""
    path = tmp_path / "silent.flac"
    soundfile.write(path, np.zeros((96000, 2)), 48000)
    sound = read_mono(path, longest_s=60.0)
    assert (sound.samples.size, float(np.abs(sound.samples).max())) == (96000, 0.0)


def test_opposite_channels_do_not_cancel(tmp_path):
    """A stereo recording with one channel turned over keeps its strokes, and says so."""
    clicks = click_train(48000)
    path = tmp_path / "opposite.wav"
    soundfile.write(path, np.stack([clicks, -0.9 * clicks], axis=1), 48000, subtype="FLOAT")
    sound = read_mono(path, longest_s=60.0)
    assert np.max(np.abs(sound.samples - 0.95 * clicks)) < 1e-6
    assert "opposite phase" in sound.assumed[0]
    assert sound.assumed[0].endswith(": 2.")


def test_one_microphone_of_eight_channels_keeps_its_level(tmp_path):
    """Channels that carry no sound do not water down the one that does."""
    clicks = click_train(48000)
    wide = np.zeros((clicks.size, 8), np.float32)
    wide[:, 5] = clicks
    path = tmp_path / "desk.wav"
    soundfile.write(path, wide, 48000, subtype="FLOAT")
    assert np.allclose(read_mono(path, longest_s=60.0).samples, clicks)


def test_blocks_are_large_and_of_float32(tmp_path):
    """Blocks come in the file's own channels, large enough to work on at once."""
    path, _ = _written(tmp_path, ENCODED[1])
    with open_sound(path) as file:
        blocks = list(file.blocks())
    assert all(block.dtype == np.float32 and block.shape[1] == 2 for block in blocks)
    assert all(len(block) >= 65_536 for block in blocks[:-1])


def test_reading_stops_where_it_was_told(tmp_path):
    """A longer file than asked for is read up to there, with a note."""
    path = tmp_path / "long.wav"
    soundfile.write(path, click_train(48000), 48000)
    sound = read_mono(path, longest_s=2.0)
    assert sound.samples.size == 96000
    assert sound.notes == ("The recording was read up to 2 s only.",)


def test_files_are_closed(tmp_path):
    """A refused file and a read one can both be deleted at once: nothing holds them open."""
    open_before = len(list(Path("/proc/self/fd").iterdir())) if Path("/proc").exists() else 0
    path, _ = _written(tmp_path, ENCODED[0])
    read_mono(path, longest_s=1.0)
    (tmp_path / "bad.wav").write_text("no sound " * 100)
    with pytest.raises(LoosehandError):
        open_sound(tmp_path / "bad.wav")
    open_after = len(list(Path("/proc/self/fd").iterdir())) if Path("/proc").exists() else 0
    assert open_after == open_before


_CHILD = """
import sys
from pathlib import Path
from loosehand.errors import LoosehandError
from loosehand.hear.decode import open_sound
frames = 0
for name in sys.argv[1:]:
    try:
        with open_sound(name) as file:
            for block in file.mono_blocks():
                frames += len(block)
    except LoosehandError:
        pass
status = Path("/proc/self/status")
peaks = [line.split()[1] for line in status.read_text().splitlines() if line.startswith("VmHWM")] \
    if status.exists() else ["0"]
print(frames, *peaks)
"""


def _in_a_process_of_its_own(*paths):
    """Frames read, peak memory in bytes (0 where unknown), and what the error stream got."""
    done = subprocess.run(
        [sys.executable, "-c", _CHILD, *map(str, paths)], capture_output=True, text=True, check=True
    )
    frames, peak_kib = map(int, done.stdout.split())
    return frames, peak_kib * 1024, done.stderr


def test_the_decoder_says_nothing_itself(tmp_path):
    """What the decoder library complains about never reaches the terminal."""
    broken = []
    for case in (*CUT, ENCODED[7], ENCODED[11]):
        path, _ = _written(tmp_path, case)
        data = bytearray(path.read_bytes())
        data[len(data) // 3 : len(data) // 3 + 500] = np.random.default_rng(2).bytes(500)
        path.write_bytes(data[: len(data) * 3 // 4])
        broken.append(path)
    frames, _, said = _in_a_process_of_its_own(*broken)
    assert frames > 0
    assert said == ""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="peak memory is not told here")
@pytest.mark.parametrize("channels", [1, 2])
def test_three_hours_need_little_memory(tmp_path, channels):
    """Peak memory for three hours is that for one minute, within 40 MB."""
    rate, minute = 8000, click_train(8000, duration_s=60.0)
    minute_frames = np.repeat(minute[:, None], channels, axis=1)
    paths = {}
    for minutes in (1, 180):
        paths[minutes] = tmp_path / f"{minutes}.flac"
        with soundfile.SoundFile(paths[minutes], "w", rate, channels, "PCM_16") as output:
            for _ in range(minutes):
                output.write(minute_frames)
    short = _in_a_process_of_its_own(paths[1])
    long = _in_a_process_of_its_own(paths[180])
    assert (short[0], long[0]) == (60 * rate, 180 * 60 * rate)
    assert 0 < short[1] < long[1] + 40e6
    assert long[1] - short[1] < 40e6


@pytest.mark.timing
def test_a_minute_of_m4a_is_decoded_in_a_tenth_of_a_second(tmp_path):
    """The best of three readings of 60 s of stereo AAC takes no more than 0.1 s."""
    noise = np.random.default_rng(0).normal(0.0, 0.05, (60 * 48000, 2)).astype(np.float32)
    path = encode(
        tmp_path / "minute.m4a", noise, sample_rate_hz=48000, container="ipod", codec="aac"
    )
    spent_s = []
    for _ in range(3):
        start_s = time.perf_counter()
        read_mono(path, longest_s=120.0)
        spent_s.append(time.perf_counter() - start_s)
    assert min(spent_s) <= 0.1
