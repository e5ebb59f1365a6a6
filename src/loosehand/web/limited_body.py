"""A request whose body may not be longer than what its page takes."""

from starlette.requests import Request
from starlette.types import Message, Receive

from loosehand.errors import InputError

__all__ = ["limited", "receive_up_to"]

_MOST_DRAINED_TIMES = 10


def limited(request: Request, *, most_bytes: int, sentence: str) -> Request:
    """Return a request whose body ends with an error where it is too long.

    Parameters
    ----------
    request : as it came
    most_bytes : length of the longest body that is read
    sentence : what is said of a longer one
    """
    receive = receive_up_to(request.receive, most_bytes=most_bytes, sentence=sentence)
    return Request(request.scope, receive)


def receive_up_to(receive: Receive, *, most_bytes: int, sentence: str) -> Receive:
    """Hand a body on up to a length; of a longer one hear the rest out, and then refuse it.

    A browser that is cut short shows no answer, so what is too long is let come, and dropped: up
    to ten times as much as is read.
    """
    came = 0

    async def receive_limited() -> Message:
        nonlocal came
        message = await receive()
        came += len(message.get("body", b""))
        if came <= most_bytes:
            return message
        while message.get("more_body") and came <= _MOST_DRAINED_TIMES * most_bytes:
            message = await receive()
            came += len(message.get("body", b""))
        raise InputError(sentence)

    return receive_limited
