"""The near end of the speech process: starts it, asks it, and starts it again when it hangs or dies."""

from __future__ import annotations

import contextlib
import json
import queue
import subprocess
import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence

from callout.errors import BadInput, CalloutError
from callout.processes import module_command

#: Which engine is asked, in order, until one gives sound. The same engine twice means: with a fresh process.
ORDER = ("pyttsx3", "pyttsx3", "direct", "direct")
#: The same for each voice by its name. Where the neural voice fails the plain one speaks: better that than none.
ORDERS: dict[str, tuple[str, ...]] = {"plain": ORDER, "heart": ("heart", "heart", *ORDER)}
START_SECONDS = 15.0
KEPT = 256


def open_process(voice: str = "plain") -> SpeechProcess:
    """The speech process of a voice, "plain" or "heart". Raises BadInput where it is not installed."""
    from callout.speaking.engines import heart_is_installed

    if voice == "heart" and not heart_is_installed():
        raise BadInput("the voice heart is not installed; install it with: python -m pip install 'callout[heart]'")
    return SpeechProcess(ORDERS[voice])


class _Process:
    """One running speech process. A thread reads its answers, so that a silent one can be given up."""

    def __init__(self, command: Sequence[str]) -> None:
        self._child = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        self._answers: queue.SimpleQueue[tuple[dict[str, object], bytes] | None] = queue.SimpleQueue()
        threading.Thread(target=self._read, name="speech answers", daemon=True).start()
        try:
            self.take(START_SECONDS)
        except RuntimeError:
            self.kill()
            raise

    def _read(self) -> None:
        stream = self._child.stdout
        assert stream is not None
        with contextlib.suppress(OSError, ValueError):
            for line in stream:
                answer = json.loads(line)
                self._answers.put((answer, stream.read(2 * int(answer.get("samples", 0)))))
        self._answers.put(None)

    def take(self, seconds: float) -> tuple[dict[str, object], bytes]:
        """The next answer; RuntimeError when the process died, failed or said nothing for `seconds`."""
        try:
            answer = self._answers.get(timeout=seconds)
        except queue.Empty:
            raise RuntimeError(f"silent for {seconds:.0f} s") from None
        if answer is None:
            raise RuntimeError("the speech process ended")
        if "error" in answer[0]:
            raise RuntimeError(str(answer[0]["error"]))
        return answer

    def ask(self, text: str, rate: int, seconds: float) -> bytes:
        assert self._child.stdin is not None
        try:
            self._child.stdin.write(json.dumps({"text": text, "rate": rate}).encode() + b"\n")
            self._child.stdin.flush()
        except (OSError, ValueError) as gone:
            raise RuntimeError("the speech process ended") from gone
        return self.take(seconds)[1]

    def kill(self) -> None:
        self._child.kill()
        self._child.wait()
        for stream in (self._child.stdin, self._child.stdout):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()

    def close(self) -> None:
        """Ends it politely, so that it clears its folder away; kills it when it does not go."""
        assert self._child.stdin is not None
        with contextlib.suppress(OSError):
            self._child.stdin.close()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._child.wait(2)
        self.kill()


def worker_command(engine: str) -> list[str]:
    return module_command("callout.speaking.worker", engine)


class SpeechProcess:
    """Words in, samples out, whatever the engine does. Safe to call from several threads.

    `timeout` is what one stretch of words may take in seconds before the process is given up. `restarts` counts
    how often that happened. Raises `CalloutError` when every engine failed.
    """

    def __init__(
        self,
        order: Sequence[str] = ORDER,
        timeout: float = 8.0,
        command: Callable[[str], list[str]] = worker_command,
    ) -> None:
        self._order = tuple(order)
        self._timeout = timeout
        self._command = command
        self._process: _Process | None = None
        self._at = 0
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[str, int], bytes] = OrderedDict()
        self.restarts = 0

    @property
    def engine(self) -> str:
        """The name of the engine in use."""
        return self._order[min(self._at, len(self._order) - 1)]

    def start(self) -> None:
        """Start the process now, so that the first words do not wait for it."""
        self.samples("ready", 130)

    def samples(self, text: str, rate: int) -> bytes:
        """16-bit mono samples at `engines.RATE` for words that were checked before."""
        with self._lock:
            key = (text, rate)
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
            sound = self._ask(text, rate)
            self._kept[key] = sound
            if len(self._kept) > KEPT:
                self._kept.popitem(last=False)
            return sound

    def _ask(self, text: str, rate: int) -> bytes:
        reasons = []
        for step in range(self._at, len(self._order)):
            try:
                if self._process is None:
                    self._process = _Process(self._command(self._order[step]))
                sound = self._process.ask(text, rate, self._timeout)
            except (OSError, RuntimeError) as failed:
                reasons.append(f"{self._order[step]}: {failed}")
                self._drop()
                continue
            # A fresh process of the same engine cured it: stay. Another engine had to help: stay with that one.
            self._at = self._order.index(self._order[step])
            return sound
        raise CalloutError(f"the voice does not speak ({'; '.join(reasons)}); run: callout check")

    def _drop(self) -> None:
        self.restarts += 1
        if self._process is not None:
            self._process.kill()
            self._process = None

    def close(self) -> None:
        with self._lock:
            if self._process is not None:
                self._process.close()
                self._process = None
