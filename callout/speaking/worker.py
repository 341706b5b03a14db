"""The speech process: `python -m callout.speaking.worker ENGINE`.

One request a line on standard input, {"text": str, "rate": words a minute}; one answer a line on standard output,
{"samples": count, "retries": int} followed by that many 16-bit samples, or {"error": str}. It ends with its input.
Everything the engine prints goes to standard error, so that it cannot be taken for an answer.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from pathlib import Path

from callout.speaking.engines import ENGINES


def main(engine_name: str) -> None:
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    with tempfile.TemporaryDirectory(prefix="callout-speech-") as folder:
        engine = ENGINES[engine_name](Path(folder))
        answers.write(b'{"ready": true}\n')
        answers.flush()
        for line in sys.stdin.buffer:
            request = json.loads(line)
            sound = b""
            try:
                sound = engine.speak(request["text"], request["rate"])
                answer: dict[str, int | str] = {"samples": len(sound) // 2, "retries": engine.retries}
            except RuntimeError as failed:
                answer = {"error": str(failed)}
            answers.write(json.dumps(answer).encode() + b"\n" + sound)
            answers.flush()


if __name__ == "__main__":
    main(sys.argv[1])
