"""Static files under names that change with what is in them, so that they may be kept for long."""

import hashlib
import json
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

    def import_map(self) -> str:
        """Map every module's plain address to the one that changes with it, as JSON."""
        modules = sorted((self._folder / "js").glob("*.js"))
        names = [f"js/{module.name}" for module in modules]
        return json.dumps({"imports": {f"/static/{name}": self.url(name) for name in names}})
