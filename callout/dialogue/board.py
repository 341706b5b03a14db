"""The board: one snapshot of a conversation for programs and for eyes.

It is made by `callout.dialogue.following` from the lines of a journal alone, and shows nothing that is not written.
Times are those of the lines; how long ago that is, whoever shows it works out.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

from callout.dialogue.records import Role


class _Value(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class BoardFigure(_Value):
    """One part of a callout for the eye: "height", "11 ft"."""

    label: str
    text: str


class BoardItem(_Value):
    """One line of a parts list. `now`: it is the one that was said last."""

    item: int
    quantity: int
    picked: int
    name: str
    where: str = ""
    now: bool = False


class BoardBuild(_Value):
    """One build. `state`: it waits for its walk, is begun, is the one in the walk, or stands at the wall.

    `card` and `says` are where its walk is, in words ("item four"; what was said); `walk` is the number of the line
    that brought it there: whoever acts on what is shown names it, and is told when it is old. `checks` are those
    before load that nobody has answered yet. `since` is when it was released, or when it was placed. `next_look`: when
    what stands is to be looked at again, and why; `last_look` and `signed`: when it was looked at last, and by whom;
    `warnings`: which reading is over its limit, and what was not tight; `look_begun`: what was read and not signed.
    """

    build_id: int
    number: int
    state: Literal["waits", "begun", "walk", "stands"]
    title: str
    kind: str
    height: str
    angle: int | None = None
    position: int | None = None
    place: str = ""
    for_whom: str | None = None
    given_by: str = ""
    picked_by: tuple[str, ...] = ()
    since: str | None = None
    items: tuple[BoardItem, ...] = ()
    pieces: int = 0
    pieces_picked: int = 0
    items_left: int = 0
    short: tuple[str, ...] = ()
    remedy: str = ""
    card_kind: str = ""
    card: str = ""
    says: str = ""
    walk: int | None = None
    checks: tuple[str, ...] = ()
    next_look: str | None = None
    look_why: str = ""
    last_look: str | None = None
    signed: str = ""
    warnings: tuple[str, ...] = ()
    look_begun: bool = False

    @property
    def now(self) -> BoardItem | None:
        """The item that was said last."""
        return next((item for item in self.items if item.now), None)

    @property
    def next(self) -> BoardItem | None:
        """The item that comes after it."""
        at = self.now
        left = [item for item in self.items if item.picked < item.quantity and item is not at]
        return next((item for item in left if at is None or item.item > at.item), left[0] if left else None)

    @property
    def called(self) -> str:
        """ "11 ft @ 60°"."""
        return self.height + ("" if self.angle is None else f" @ {self.angle}°")


class BoardWait(_Value):
    """What waits for an answer from one side. `kind` is what was read back ("callout", "stock" ...), or "half" for a
    callout with something missing (`asked`). `say`: the words that answer it. `parked`: it was set aside.
    """

    role: Role
    who: str
    kind: str
    text: str
    say: str
    build: int | None = None
    figures: tuple[BoardFigure, ...] = ()
    asked: str = ""
    since: str | None = None
    parked: bool = False


class BoardStock(_Value):
    """One line of the stock. `on_hand` lies in its place (None: nobody told how much), `promised` of that waits to be
    picked, `free` is the rest, `out` was picked or stands."""

    name: str
    where: str = ""
    on_hand: int | None = None
    promised: int = 0
    free: int | None = None
    out: int = 0


class BoardWord(_Value):
    """The last thing that was heard or said."""

    time: str | None
    speaker: str
    text: str


class Board(_Value):
    """See the module. `seq` and `time` are the last line's; `halted` is the stop word that silenced the voice. `live`:
    whether somebody writes the journal now; False is a board that will not change, None for lines alone.
    `size_up`: what is known of the wall that is sized up, and what came of it.

    Examples:
        >>> import callout
        >>> with callout.Session() as talk:
        ...     _ = talk.text("insertion eleven feet sixty")
        ...     now = talk.board()
        >>> [wait.kind for wait in now.waiting], now.open
        (['callout'], ())
    """

    seq: int = 0
    time: str | None = None
    live: bool | None = None
    halted: str = ""
    halted_since: str | None = None
    place: str = ""  # what is known of the place of what is called next
    size_up: tuple[str, ...] = ()
    waiting: tuple[BoardWait, ...] = ()
    open: tuple[BoardBuild, ...] = ()
    standing: tuple[BoardBuild, ...] = ()
    stock: tuple[BoardStock, ...] = ()
    heard: BoardWord | None = None
    said: BoardWord | None = None

    @property
    def walked(self) -> BoardBuild | None:
        """The build in the walk."""
        return next((build for build in self.open if build.state == "walk"), None)

    @property
    def builds(self) -> tuple[BoardBuild, ...]:
        return (*self.open, *self.standing)

    def to_json(self) -> dict[str, Any]:
        """The published shape (`callout schema board`)."""
        return self.model_dump(mode="json")
