"""The far side of the ears' process. Run as `python -m callout.hearing.ears_worker`.

Messages are (method of `Ears`, arguments ...), each answered with what the method returns.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from callout.hearing.ears import WEIGHTS, Ears
from callout.hearing.helper import serve

METHODS = frozenset(("hear", "prepare", "begin", "feed", "glance", "finish", "ready", "decide_by"))


def main() -> None:
    import sys

    ears = Ears(Path(sys.argv[1]) if len(sys.argv) > 1 else WEIGHTS)

    def answer(message: tuple[Any, ...]) -> Any:
        if message[0] not in METHODS:
            raise ValueError(f"unknown message {message[0]!r}")
        return getattr(ears, message[0])(*message[1:])

    try:
        serve(answer)
    finally:
        ears.close()


if __name__ == "__main__":
    main()
