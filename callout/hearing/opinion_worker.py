"""The far side of the third opinion. Run as `python -m callout.hearing.opinion_worker FOLDER`.

Messages, each answered once (see `helper`):
  ("ready",)                     -> True
  ("ask", samples, [words, ...]) -> [(score, tokens) or None, ...]
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

os.environ.setdefault("ORT_DISABLE_TELEMETRY", "1")

from callout.hearing.helper import serve
from callout.hearing.opinion import OpinionNetwork


def main() -> None:
    network = OpinionNetwork(Path(sys.argv[1]))

    def answer(message: tuple[Any, ...]) -> Any:
        if message[0] == "ready":
            return True
        likely = network.likelihoods(message[1], message[2])
        return [None if one is None else (one.score, one.tokens) for one in likely]

    serve(answer)


if __name__ == "__main__":
    main()
