"""What is done while nobody writes, and what is left undone while a long journal is read."""

from __future__ import annotations

import contextlib
import gc
import threading
from collections.abc import Callable, Iterator

#: Seconds after the last line until it counts as quiet.
QUIET = 0.5


class Rest:
    """Calls `do`, in a thread of its own, once it has been quiet for a while after `wake`."""

    def __init__(self, do: Callable[[], None], quiet: float = QUIET) -> None:
        self._do = do
        self._quiet = quiet
        self._woken = threading.Event()
        self._ended = threading.Event()
        self._thread: threading.Thread | None = None

    def wake(self) -> None:
        self._woken.set()
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="journal at rest", daemon=True)
            self._thread.start()

    def end(self) -> None:
        """Does not wait: what `do` must not meet any more, it has to see for itself."""
        self._ended.set()
        self._woken.set()

    def _work(self) -> None:
        while True:
            self._woken.wait()
            while self._woken.is_set() and not self._ended.is_set():
                self._woken.clear()
                self._ended.wait(self._quiet)
            if self._ended.is_set():
                return
            self._do()


@contextlib.contextmanager
def pausing_collection() -> Iterator[None]:
    """While millions of values are made that all stay, Python looks through them again and again for what could go:
    two thirds of the time that reading a long journal takes. Not looking costs nothing here.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
