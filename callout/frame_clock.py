"""When the first frame of a stream of sound was, on the clock of the program: two streams are brought together so."""

from __future__ import annotations

from collections import deque

#: Seconds by which a stream may be early or late before it is said to have moved.
STILL = 0.03
#: So many pieces, one after the other, are late where a stream has stalled.
LATE_PIECES = 4


class FrameClock:
    """`began`: when the first frame of a stream would have been, on time.monotonic(), had it always run evenly.

    The quickest of the last pieces is the true one, since a piece can be late and never early. It is followed only when
    the stream has really moved (it stalled, or its clock drifts), and `moves` counts that: whoever aligns two streams
    wants them still.
    """

    def __init__(self, rate: int, pieces: int = 50) -> None:
        self.began = 0.0
        self.moves = 0
        self._rate = rate
        self._offsets: deque[float] = deque(maxlen=pieces)

    @property
    def wavers(self) -> bool:
        """Whether the last pieces all came late: the machine is busy for a moment, or the stream has stalled, which is
        known for certain only once the pieces before that are forgotten."""
        last = list(self._offsets)[-LATE_PIECES:]
        return len(last) == LATE_PIECES and min(last) - self.began > STILL

    def tell(self, now: float, frames: int) -> None:
        """A piece came, or was asked for, at `now`; `frames` came before its end."""
        self._offsets.append(now - frames / self._rate)
        quickest = min(self._offsets)
        if abs(quickest - self.began) > STILL:
            self.began = quickest
            self.moves += 1
