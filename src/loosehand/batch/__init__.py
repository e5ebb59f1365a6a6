"""Files to readings: one, or many at once on a local pool."""

from loosehand.batch.hear_file import hear_file, hear_many

__all__ = ["hear_file", "hear_many"]
