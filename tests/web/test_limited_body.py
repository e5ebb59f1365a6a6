"""A body that is too long is heard out, dropped and refused."""

import asyncio

import pytest

from loosehand.errors import InputError
from loosehand.web.limited_body import receive_up_to


def test_a_body_is_cut_at_the_limit():
    """What is handed on never exceeds the limit, and the rest is taken off the line."""
    sent = [{"type": "http.request", "body": b"x" * 400, "more_body": n < 4} for n in range(5)]

    async def receive():
        return sent.pop(0)

    handed_on = receive_up_to(receive, most_bytes=1000, sentence="larger than 0 MB")

    async def hear_all():
        got = 0
        while True:
            got += len((await handed_on())["body"])
            assert got <= 1000

    with pytest.raises(InputError, match="larger than 0 MB"):
        asyncio.run(hear_all())
    assert sent == []
