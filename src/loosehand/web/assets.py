"""Static files under names that change with what is in them, so that they may be kept for long."""

import hashlib
from functools import cache
from pathlib import Path

__all__ = ["StaticUrls"]

_DIGITS = 10


class StaticUrls:
    """Addresses of static files.

    Parameters
    ----------
    folder : where they lie
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.url = cache(self._url)

    def _url(self, name: str) -> str:
        digest = hashlib.sha256((self._folder / name).read_bytes()).hexdigest()[:_DIGITS]
        return f"/static/{name}?v={digest}"
