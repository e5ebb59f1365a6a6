"""Which HTTP status an error is answered with."""

from loosehand.errors import (
    Conflict,
    EvidenceError,
    InputError,
    LoosehandError,
    MediaError,
    NotFound,
    StoreError,
)

__all__ = ["http_status"]

_STATUS: dict[type[LoosehandError], int] = {
    InputError: 422,
    EvidenceError: 200,
    MediaError: 415,
    NotFound: 404,
    Conflict: 409,
    StoreError: 503,
}


def http_status(error: LoosehandError) -> int:
    """HTTP status for an error.

    Examples
    --------
    >>> http_status(InputError("tempo_bpm = 0"))
    422
    """
    return next((status for kind, status in _STATUS.items() if isinstance(error, kind)), 500)
