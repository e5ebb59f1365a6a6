"""From many channels to one, so that no sound cancels another.

The channels are averaged over those that carry sound. A channel in opposite phase to the
loudest (a miswired cable, a mid-side pair, a balanced line recorded as two channels) is turned
over first. The loudest channel alone would be cleaner where microphones stand apart, but it
might leave out the click.
"""

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

__all__ = ["mix", "mix_weights", "mono_blocks"]

Samples = NDArray[np.float32]
Weights = NDArray[np.float32]

OPPOSITE_CORRELATION = -0.2
"""Below this correlation with the loudest channel a channel is turned over. Chosen: a mean with
less correlation than this keeps at least two fifths of the power of one channel."""

SOUNDING_SHARE = 0.001
"""A channel with less than this share of the loudest one's power (-30 dB) carries no sound of its
own. Chosen, not validated."""

SILENT_PEAK = 1e-4
"""Below this peak (-80 dB of full scale) nothing can be said of the channels' phase."""


def mix_weights(samples: Samples) -> Weights:
    """Weight of each channel, one for a whole take.

    Parameters
    ----------
    samples : float32 array, shape (frames, channels), a stretch that holds sound

    Returns
    -------
    weights : float32 array, shape (channels,), negative for a channel to be turned over

    Source
    ------
    Ours.

    Examples
    --------
    >>> left = np.sin(np.arange(100, dtype=np.float32))
    >>> mix_weights(np.stack([left, -left], axis=1)).tolist()
    [0.5, -0.5]
    """
    channels = samples.shape[1]
    powers = np.einsum("fc,fc->c", samples, samples, dtype=np.float64)
    loudest = int(np.argmax(powers))
    if powers[loudest] == 0.0:
        return np.full(channels, 1.0 / channels, dtype=np.float32)
    products = np.einsum("fc,f->c", samples, samples[:, loudest], dtype=np.float64)
    scale = np.sqrt(np.maximum(powers, np.finfo(np.float64).tiny) * powers[loudest])
    signs = np.where(products / scale < OPPOSITE_CORRELATION, -1.0, 1.0)
    sounding = int(np.count_nonzero(powers >= SOUNDING_SHARE * powers[loudest]))
    return (signs / sounding).astype(np.float32)


def mix(samples: Samples, weights: Weights) -> Samples:
    """Mix channels, shape (frames, channels), into one, shape (frames,)."""
    mono: Samples = samples[:, 0] * weights[0]
    for channel in range(1, samples.shape[1]):
        mono += samples[:, channel] * weights[channel]
    return mono


def mono_blocks(
    blocks: Iterable[Samples], *, look_frames: int, turned: list[int]
) -> Iterator[Samples]:
    """Mix a stream of blocks into one channel, by weights that stay for the whole take.

    From the first block that is not silent on, ``look_frames`` frames are held back until the
    weights are known.

    Parameters
    ----------
    blocks : float32 arrays, shape (frames, channels)
    look_frames : frames to look at
    turned : filled with the numbers of the channels turned over, from 1

    Yields
    ------
    mono : float32 array, shape (frames,)
    """
    iterator = iter(blocks)
    held: list[Samples] = []
    frames = 0
    for block in iterator:
        if held or float(np.max(np.abs(block), initial=0.0)) > SILENT_PEAK:
            held.append(block)
            frames += len(block)
        else:
            yield block.mean(axis=1, dtype=np.float32)
        if frames >= look_frames:
            break
    if not held:
        return
    weights = mix_weights(np.concatenate(held))
    turned.extend(int(channel) + 1 for channel in np.flatnonzero(weights < 0.0))
    for block in held:
        yield mix(block, weights)
    held.clear()
    for block in iterator:
        yield mix(block, weights)
