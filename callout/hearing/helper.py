"""A process that may die: asked over pipes, given up when silent, started again at the next question.

Libraries that can abort (Vosk, in several ways; see `vosk_ear`) live on the far side. Both sides are this package,
so messages are pickles, each with its length before it.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import pickle
import queue
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from typing import IO, Any

from callout.processes import module_command

START_SECONDS = 20.0
END_SECONDS = 2.0
LABOUR = 0.02  # seconds: what took longer has used much memory, and freed it
MOST_WAITING = 4_000_000  # bytes that a process may leave unread: two minutes of sound; more is that of a hung one


class HelperDied(RuntimeError):
    """The process ended, or said nothing in time. The next question starts a fresh one."""


class HelperFailed(RuntimeError):
    """The process lives and says that it could not do what was asked."""


def packed(message: object) -> bytes:
    body = pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)
    return struct.pack("<Q", len(body)) + body


def send(stream: IO[bytes], message: object) -> None:
    stream.write(packed(message))
    stream.flush()


def receive(stream: IO[bytes]) -> Any:
    """The next message; EOFError at the end of the stream."""
    head = stream.read(8)
    if len(head) < 8:
        raise EOFError
    body = stream.read(struct.unpack("<Q", head)[0])
    return pickle.loads(body)


def serve(answer: Callable[[Any], Any]) -> None:
    """The far side's main loop: answers every message on standard input until it ends.

    Whatever else writes to standard output goes to standard error, so that no library can break the talk.
    """
    source, sink = sys.stdin.buffer, os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    hand_back = freed_memory_goes_back()
    with contextlib.suppress(EOFError, BrokenPipeError, KeyboardInterrupt):
        while True:
            message = receive(source)
            began = time.monotonic()
            try:
                reply = ("ok", answer(message))
            except Exception as wrong:
                reply = ("failed", f"{type(wrong).__name__}: {wrong}")
            send(sink, reply)
            if time.monotonic() - began > LABOUR:
                hand_back()


def freed_memory_goes_back() -> Callable[[], object]:
    """What hands memory that was freed back to the system, in a few ms. The C library keeps it, in pieces that the next
    long utterance does not fit into: a process of the ears grew by 300 MB in an hour of talk. Nothing where the library
    is another than glibc."""
    try:
        trim = ctypes.CDLL(None).malloc_trim
    except (OSError, AttributeError, TypeError):
        return lambda: None
    return lambda: trim(0)


class _Letters:
    """What goes to one process, written by a thread of its own: a process that hangs fills its pipe, and whoever writes
    into a full pipe hangs with it."""

    def __init__(self, stream: IO[bytes]) -> None:
        self._stream = stream
        self._letters: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        self.waiting = 0  # bytes not yet in the pipe
        self._lock = threading.Lock()
        self.broken = False
        threading.Thread(target=self._write, daemon=True).start()

    def put(self, letter: bytes) -> None:
        with self._lock:
            self.waiting += len(letter)
        self._letters.put(letter)

    def end(self) -> None:
        """Close the stream once all is written."""
        self._letters.put(None)

    def _write(self) -> None:
        try:
            while (letter := self._letters.get()) is not None:
                self._stream.write(letter)
                self._stream.flush()
                with self._lock:
                    self.waiting -= len(letter)
            self._stream.close()
        except (OSError, ValueError):
            self.broken = True


class Helper:
    """The near side. Questions are answered in the order in which they were put; `ask` waits, `post` does not.

    `started` is called after each start, to bring a fresh process to where the old one was. `restarts` counts
    starts after the first.
    """

    def __init__(self, module: str, *arguments: str, started: Callable[[Helper], None] | None = None) -> None:
        self._command = module_command(module, *arguments)
        self._started = started
        self._child: subprocess.Popen[bytes] | None = None
        self._letters: _Letters | None = None
        self._answers: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._owed = 0
        self._starts = 0

    @property
    def restarts(self) -> int:
        return max(0, self._starts - 1)

    @property
    def pid(self) -> int | None:
        return self._child.pid if self._child else None

    @property
    def running(self) -> bool:
        return self._child is not None and self._child.poll() is None

    def start(self) -> None:
        """Start the process if none runs. Does not wait until it is ready."""
        if self.running:
            return
        self.kill()
        quiet = None if os.environ.get("CALLOUT_DEBUG") else subprocess.DEVNULL
        one_thread = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        self._child = subprocess.Popen(
            self._command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=quiet,
            env={**os.environ, **one_thread},
        )  # fmt: skip
        assert self._child.stdin is not None
        self._letters, self._answers = _Letters(self._child.stdin), queue.SimpleQueue()
        threading.Thread(target=_read, args=(self._child.stdout, self._answers), daemon=True).start()
        self._starts += 1
        if self._started:
            self._started(self)

    def post(self, message: object) -> None:
        """Put a question whose answer nobody waits for. Raises HelperDied."""
        self.start()
        assert self._letters is not None
        if self._letters.broken or self._letters.waiting > MOST_WAITING:
            why = "the process ended" if self._letters.broken else "the process hangs"
            self.kill()
            raise HelperDied(why)
        self._letters.put(packed(message))
        self._owed += 1

    def ask(self, message: object, seconds: float) -> Any:
        """The answer to a question. Raises HelperDied after `seconds` of silence, HelperFailed when told so."""
        fresh = not self.running
        self.post(message)
        return self.answer(seconds + START_SECONDS * fresh)

    def answer(self, seconds: float) -> Any:
        """The answer to the question that was put last. Raises as `ask` does."""
        while True:
            try:
                answer = self._answers.get(timeout=seconds)
            except queue.Empty:
                answer = None
            if answer is None:
                self.kill()
                raise HelperDied("the process ended, or did not answer in time")
            self._owed -= 1
            if self._owed == 0:
                break
        if answer[0] == "failed":
            raise HelperFailed(answer[1])
        return answer[1]

    def kill(self) -> None:
        child, self._child, self._owed = self._child, None, 0
        if child is None:
            return
        child.kill()
        child.wait()
        if self._letters is not None:
            self._letters.end()
        if child.stdout is not None:
            with contextlib.suppress(OSError):
                child.stdout.close()

    def close(self) -> None:
        """End the process politely, so that it clears its folder away; killed when it does not go."""
        if self._child is not None and self._letters is not None:
            self._letters.end()
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._child.wait(END_SECONDS)
        self.kill()


def _read(stream: IO[bytes], answers: queue.SimpleQueue[Any]) -> None:
    with contextlib.suppress(EOFError, OSError, ValueError, pickle.UnpicklingError):
        while True:
            answers.put(receive(stream))
    answers.put(None)
