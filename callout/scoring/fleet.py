"""Scoring spread over many machines by Dask: the same trials, the same rows, in the same order as on one machine.

A worker opens ears once for each of its threads and keeps them. The engine runs a worker's lost trials elsewhere; the
client holds only what is under way, so its memory does not grow with the number of recordings. Every machine must see
the folder of recordings under the same path.
"""

from __future__ import annotations

import contextlib
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from callout.errors import CalloutError
from callout.scoring.run import Booth, ScoredRow, Trial, blank_row

if TYPE_CHECKING:
    from distributed import Client, Future, Worker

#: Trials in one task: a task costs the engine about a millisecond, a trial a tenth of a second.
BATCH = 8
#: Seconds within which a scheduler must answer.
CONNECT = 5
#: Tasks under way for each thread of the fleet.
_AHEAD = 2

OpenBooth = Callable[[], Booth]


@dataclass
class _WorkerEars:
    """The ears of one run on one worker, a set for each thread; closed when the run ends (a Dask worker plugin)."""

    open_booth: OpenBooth
    name: str
    of: dict[int, Booth] = field(default_factory=dict)

    def setup(self, worker: Worker) -> None:
        """Nothing is opened before a trial needs it."""

    def teardown(self, worker: Worker) -> None:
        while self.of:
            self.of.popitem()[1].close()

    def booth(self) -> Booth:
        thread = threading.get_ident()
        if thread not in self.of:
            self.of[thread] = self.open_booth()
        return self.of[thread]


def _as_plugin(open_booth: OpenBooth, name: str) -> Any:
    """Dask takes plugins of its own class only, and Dask is loaded only where it is used."""
    from distributed.diagnostics.plugin import WorkerPlugin

    return type("_WorkerEarsPlugin", (_WorkerEars, WorkerPlugin), {})(open_booth, name)


def _hear(name: str, trials: Sequence[Trial]) -> list[ScoredRow]:
    """On a worker: the rows of a batch."""
    from distributed import get_worker

    booth = get_worker().plugins[name].booth()
    return [booth.hear(*trial) for trial in trials]


@contextlib.contextmanager
def connected(address: str) -> Iterator[Client]:
    """A client of the fleet's scheduler at `address` (as "tcp://10.0.0.5:8786"). Raises CalloutError without Dask, or
    where no scheduler answers."""
    try:
        from distributed import Client
    except ImportError:
        raise CalloutError("scoring on a fleet needs Dask: pip install 'callout[fleet]'") from None
    try:
        client = Client(address, timeout=CONNECT)
    except (OSError, ValueError) as failed:
        why = f"no Dask scheduler answers at {address} ({failed})"
        raise CalloutError(f"{why}; start one with: dask scheduler") from None
    with client:
        yield client


def over_workers(client: Client, trials: Iterator[Trial], open_booth: OpenBooth) -> Iterator[ScoredRow]:
    """The rows of `trials`, in their order. A trial on which workers die again and again is a row with its error."""
    from distributed import KilledWorker

    name = f"callout-ears-{uuid4().hex}"
    client.register_plugin(_as_plugin(open_booth, name), name=name)
    under_way: deque[tuple[list[Trial], Future]] = deque()

    def send(batch: list[Trial]) -> Future:
        return client.submit(_hear, name, batch, pure=False)

    try:
        while True:
            while len(under_way) < _AHEAD * max(1, sum(client.nthreads().values())):
                batch = list(islice(trials, BATCH))
                if not batch:
                    break
                under_way.append((batch, send(batch)))
            if not under_way:
                return
            batch, future = under_way.popleft()
            try:
                yield from future.result()
            except KilledWorker:
                for trial in batch:
                    yield _alone(trial, send)
    finally:
        client.cancel([future for _, future in under_way])
        with contextlib.suppress(Exception):  # the scheduler may be gone; the ears go with their workers
            client.unregister_worker_plugin(name)


def _alone(trial: Trial, send: Callable[[list[Trial]], Any]) -> ScoredRow:
    from distributed import KilledWorker

    try:
        row: ScoredRow = send([trial]).result()[0]
        return row
    except KilledWorker:
        row = blank_row(*trial)
        row.error = f"{trial[1].file}: the workers died on it"
        return row
