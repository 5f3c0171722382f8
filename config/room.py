"""Room for the calls of a request.

CPython lays the frames of calls into blocks of 16 kB, takes a new block from the system when one is
full, and gives it back as soon as the call that needed it is over. A loop that happens to stand at
the end of a block does so with each call it makes: up to 4,900 times for one page. Where that is
depends on how deep the server's and the program's own calls are, and changes with every release
(https://github.com/python/cpython/issues/142183, mended in newer Pythons).

A frame that does not fit gets a block that is larger than itself, and what it calls is laid into
the rest of it. So a request begins with one that says it needs much, and touches none of it.
"""

from collections.abc import Callable, Iterable
from typing import Any

# CPython takes twice the block until this and a thousand more fit (push_chunk in Python/pystate.c):
# 512 kB, of which 240 are left. The overview takes 21; what is not touched costs no memory.
FRAME_SLOTS = 34_000

Application = Callable[[dict[str, Any], Any], Iterable[bytes]]


def with_room(application: Application) -> Application:
    """Give a WSGI application that does the same, in a block of frames large enough for all of it.

    What is sent bit by bit is made after it.
    """

    def answer(environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        return application(environ, start_response)

    answer.__code__ = answer.__code__.replace(co_stacksize=FRAME_SLOTS)
    return answer
