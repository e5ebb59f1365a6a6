"""The decoder library, wrapped: stamped pieces, and nothing of its own gets out."""

import io

import numpy as np
import pytest
import soundfile

from loosehand.errors import UnreadableAudio
from loosehand.hear.codec import Decoder
from tests.hear.recordings import click_train, encode, lag_frames


def _stored(samples, rate, *, container="WAV", subtype="PCM_16"):
    file = io.BytesIO()
    soundfile.write(file, samples, rate, format=container, subtype=subtype)
    return file


def test_pieces_are_stamped_with_the_frame_they_begin_at():
    """Stamps of a plain file count its frames."""
    decoder = Decoder(_stored(click_train(48000), 48000), "take.wav")
    position = 0
    for piece in decoder.pieces():
        assert piece.start_frame == pytest.approx(position)
        position += len(piece.samples)
    assert position == 144_000
    decoder.close()


def test_a_decoder_says_what_it_decodes():
    """Rate, channels and names are those of the file."""
    decoder = Decoder(_stored(np.zeros((5000, 2)), 22050, container="FLAC"), "take")
    assert (decoder.sample_rate_hz, decoder.channels) == (22050, 2)
    assert (decoder.container, decoder.codec) == ("flac", "flac")
    assert (decoder.priming_frames, decoder.priming_assumed) == (0, None)
    assert decoder.announced_s == pytest.approx(5000 / 22050)
    decoder.close()


@pytest.mark.parametrize("rate", [8000, 11025, 44100, 96000, 192000])
def test_every_rate_comes_out_as_it_is(rate):
    """No rate from 8 to 192 kHz is changed."""
    decoder = Decoder(_stored(click_train(rate), rate), "take.wav")
    assert decoder.sample_rate_hz == rate
    assert sum(len(piece.samples) for piece in decoder.pieces()) == 3 * rate
    decoder.close()


@pytest.mark.parametrize(
    ("channels", "container", "codec"),
    [(6, "ipod", "aac"), (8, "ipod", "aac"), (8, "ogg", "libopus")],
)
def test_many_channels_are_read(tmp_path, channels, container, codec):
    """Six and eight coded channels come out whole, each in its place."""
    clicks = click_train(48000)
    path = encode(
        tmp_path / "desk",
        np.repeat(clicks[:, None], channels, axis=1),
        sample_rate_hz=48000,
        container=container,
        codec=codec,
    )
    with path.open("rb") as file:
        decoder = Decoder(file, "desk")
        samples = np.concatenate([piece.samples for piece in decoder.pieces()])
        decoder.close()
    assert samples.shape[1] == channels
    lags = [lag_frames(clicks, samples[:, channel]) for channel in range(channels)]
    assert np.max(np.abs(lags)) <= 1


def test_more_channels_than_a_recorder_has_are_refused():
    """A header with a hundred channels is broken."""
    with pytest.raises(UnreadableAudio, match="100 channels"):
        Decoder(_stored(np.zeros((1000, 100)), 48000), "wide.wav")


def test_samples_of_64_bits_are_read():
    """The widest whole numbers that a wav file can hold come out at their level."""
    values = np.array([0, 2**62, -(2**62), 2**61], dtype="<i8").tobytes() * 100
    form = bytes.fromhex("0100 0100 80bb0000 00dc0500 0800 4000")
    head = b"RIFF" + (36 + len(values)).to_bytes(4, "little") + b"WAVEfmt "
    head += len(form).to_bytes(4, "little") + form
    data = b"data" + len(values).to_bytes(4, "little") + values
    decoder = Decoder(io.BytesIO(head + data), "wide.wav")
    samples = np.concatenate([piece.samples for piece in decoder.pieces()])
    assert samples[:4, 0].tolist() == [0.0, 0.5, -0.5, 0.25]
    assert samples.shape == (400, 1)
    decoder.close()


def test_an_absurd_rate_is_refused():
    """A rate at which no stroke can be heard is refused with its figure."""
    with pytest.raises(UnreadableAudio, match="sample rate is 100 Hz"):
        Decoder(_stored(np.zeros(1000), 100), "slow.wav")


def test_a_change_of_channels_keeps_the_first_number(tmp_path):
    """Two recordings joined, one mono, one stereo, come out with the channels of the first."""
    clicks = click_train(48000)
    joined = b""
    for name, samples in (("one.aac", clicks), ("two.aac", np.stack([clicks, clicks], axis=1))):
        path = encode(tmp_path / name, samples, sample_rate_hz=48000, container="adts", codec="aac")
        joined += path.read_bytes()
    decoder = Decoder(io.BytesIO(joined), "joined.aac")
    pieces = list(decoder.pieces())
    assert {piece.samples.shape[1] for piece in pieces} == {decoder.channels}
    assert sum(len(piece.samples) for piece in pieces) > 5.9 * 48000
    decoder.close()


def test_a_change_of_rate_is_left_out_and_counted(tmp_path):
    """Of two recordings joined at two rates only what is at the first rate is heard."""
    joined = b""
    for rate in (48000, 32000):
        path = encode(
            tmp_path / f"{rate}.aac",
            click_train(rate),
            sample_rate_hz=rate,
            container="adts",
            codec="aac",
        )
        joined += path.read_bytes()
    decoder = Decoder(io.BytesIO(joined), "joined.aac")
    frames = sum(len(piece.samples) for piece in decoder.pieces())
    assert frames == pytest.approx(3 * 48000, abs=2048)
    assert decoder.left_out > 80
    decoder.close()
