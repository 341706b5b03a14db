"""The loudspeaker of a voice: a sound card that may go away while it speaks, and is looked for again."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator

import miniaudio
import numpy as np
from numpy.typing import NDArray

from callout.errors import BadInput
from callout.speaking.player import Piece, Player

#: Opens a sound card: the player, or None and why there is none.
Opener = Callable[[], "tuple[Player | None, str]"]


class Loudspeaker:
    """`player` is the sound card, or None where nothing is played; `silent` tells why nothing is heard ("" when it is).
    Without an `opener` none is looked for.

    One thread plays and looks for the card; any other may stop what is played, and ask what it was.
    """

    def __init__(self, player: Player | None, silent: str = "", opener: Opener | None = None) -> None:
        self.player = player
        self.silent = silent
        self._opener = opener
        self._went = False  # whether a sound card was lost, and none was found since

    @property
    def lost(self) -> bool:
        """Whether a sound card went away, and is looked for."""
        return self._opener is not None and self._went

    def start(self) -> None:
        """Let it run, silent. Raises MiniaudioError when the card is gone."""
        if self.player is not None:
            self.player.start()

    def stop(self) -> None:
        """End what is being played; from any thread."""
        player = self.player
        if player is not None:
            player.stop()

    def close(self) -> None:
        if self.player is not None:
            self.player.close()

    def play(self, sound: Callable[[], Iterator[Piece]], cancelled: Callable[[], bool]) -> bool | None:
        """Whether it was heard to its end; None where the sound card is gone and no other takes its place."""
        for _ in range(2):
            assert self.player is not None
            try:
                return self.player.play(sound(), cancelled)
            except miniaudio.MiniaudioError:
                self._lose()
                if not self._find_again():
                    return None
        self._lose()
        return None

    def _lose(self) -> None:
        player, self.player, self._went = self.player, None, True
        self.silent = "the sound card stopped working"
        if player is not None:
            threading.Thread(target=player.close, name="closing a lost sound card", daemon=True).start()  # it may hang

    def _find_again(self) -> bool:
        """Whether there is a sound card again, after one was lost."""
        if self._opener is None:
            return False
        try:
            player, _ = self._opener()
            if player is None:
                return False
            player.start()
        except (BadInput, miniaudio.MiniaudioError):
            return False
        self.player, self.silent, self._went = player, "", False
        return True

    def watch(self) -> str:
        """While nothing is said: tells of a sound card that went, or came back; "" for neither."""
        if self.player is not None and self.player.gone:
            self._lose()
            if not self._find_again():
                return f"{self.silent}: the voice goes to WAV files until it is back"
        elif self.lost and self._find_again():
            return "the sound card is back: the voice is heard again"
        return ""

    def played(self, since: float, count: int) -> NDArray[np.float32] | None:
        """What it was given: `count` samples at the ears' rate from `since` on; None for silence."""
        player = self.player
        return None if player is None else player.heard(since, count)

    @property
    def moves(self) -> int:
        """How often its time line was found to have moved."""
        player = self.player
        return 0 if player is None else player.clock.moves

    @property
    def wavers(self) -> bool:
        """Whether its time line may have moved just now."""
        player = self.player
        return player is not None and player.clock.wavers
