"""Short cautions, shown where somebody is about to play."""

__all__ = ["CARE", "CARE_SHORT"]

CARE_SHORT = (
    "Warm and a little tired may be fine. Pain, tingling, numbness or weakness means stop. "
    "This is coaching, not medical advice."
)
"""The caution in a line or two.

Source: common performing-arts advice, not verified here.
"""

CARE = (
    "Warm up slowly before the first round, rest between rounds, and take days off: they are part "
    "of the work. A warm or tired forearm may be fine: slow down, play softer, shake the hands "
    "out. Pain, tingling, numbness or sudden weakness means stop for today. If it comes back, or "
    "is there at rest, see a clinician; a child tells a parent or guardian the same day. "
    "This is coaching, not medical advice."
)
"""The caution in full. Source: as above."""
