"""A helper process that uses much memory for an answer and keeps a little of it: `python -m tests.hoarder`.

For `tests/test_hearing_helper.py`. What it keeps lies above what it frees, so the C library alone gives nothing back.
"""

import time

from callout.hearing.helper import LABOUR, serve

PIECE = 100_000  # bytes; larger ones the C library gives back by itself
kept: list[bytes] = []


def hoard(pieces: int) -> int:
    used = [b"x" * PIECE for _ in range(pieces)]
    kept.append(b"x" * PIECE)
    time.sleep(2 * LABOUR)
    return len(used)


if __name__ == "__main__":
    serve(hoard)
