"""What an utterance can mean: a callout (or a part of one), or a command of the conversation.

These are the shapes that leave the program as JSON, so a field is renamed only with a new schema version.
A part that nobody said is None; nothing is filled in here (only `kind` has a default).
"""

from __future__ import annotations

from typing import Any, Literal, Union

from pydantic import BaseModel, ConfigDict

from callout.values.length import Length
from callout.values.sights import Ground, Looked, Seen

Kind = Literal[
    "raker", "flying_raker", "t", "double_t", "laced_post", "cribbing",
    "vertical_post", "horizontal", "window", "door",
]  # fmt: skip
Sole = Literal["solid", "split"]

#: The parts of a callout in the order in which they are read back.
PART_ORDER = (
    "kind", "sole", "insertion", "span", "angle_deg", "rakers", "spacing", "wall_height",
    "wall_thickness", "lean", "ground", "position", "place", "for_whom",
)  # fmt: skip


#: Fields that came after the shape was first published: there only when they were said.
_ONLY_WHEN_SAID = ("place", "span", "have", "seen", "look", "phrase")


def _may_lack(schema: dict[str, Any]) -> None:
    if "required" in schema:
        schema["required"] = [name for name in schema["required"] if name not in _ONLY_WHEN_SAID]


class Callout(BaseModel):
    """A callout as it was said, whole or in part. `lean` is the horizontal offset at the insertion; `place` is where it
    stands, in the words said ("east wall"); `span` the width of an opening or of a horizontal shore's gap.

    Examples:
        >>> import callout
        >>> callout.Callout(insertion=callout.Length.imperial(11)).missing
        ('angle_deg',)
    """

    model_config = ConfigDict(frozen=True, extra="forbid", json_schema_extra=_may_lack)

    kind: Kind = "raker"
    sole: Sole | None = None
    insertion: Length | None = None
    span: Length | None = None
    spacing: Length | None = None
    wall_height: Length | None = None
    wall_thickness: Length | None = None
    lean: Length | None = None
    angle_deg: int | None = None
    rakers: int | None = None
    position: int | None = None
    ground: Ground | None = None
    place: str | None = None
    for_whom: str | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """The required parts nobody has said yet, in the order in which they are asked for."""
        return tuple(name for name in ("insertion", "angle_deg") if getattr(self, name) is None)

    @property
    def said(self) -> dict[str, Any]:
        """The parts that were said, in reading order. The kind counts as said when it is not the default."""
        found = {name: getattr(self, name) for name in PART_ORDER}
        if found["kind"] == "raker":
            del found["kind"]
        return {name: value for name, value in found.items() if value is not None}

    def merged(self, other: Callout) -> Callout:
        """This callout with every part that `other` says put in place of its own."""
        return self.model_copy(update=other.said)


class Command(BaseModel):
    """Anything that is not a callout: a word of the conversation, a question, a line about the stock.

    `have`: so many are there (of a `short`: what lacks is the rest). `seen`: of a wall that is sized up; `look`: of a
    standing shore; `phrase`: a team's own words that are to mean the command `part`. `patch` holds the parts that a
    correction replaces; it is part of the value, and left out of the published JSON shape, where a correction of a
    single part shows as `part` with `length` or `quantity`.

    Examples:
        >>> import callout
        >>> callout.read("short two struts").meaning == callout.Command(command="short", part="strut", quantity=2)
        True
    """

    model_config = ConfigDict(frozen=True, extra="forbid", json_schema_extra=_may_lack)

    command: str
    item: int | None = None
    build: int | None = None
    quantity: int | None = None
    have: int | None = None
    part: str | None = None
    length: Length | None = None
    seen: Seen | None = None
    look: Looked | None = None
    phrase: str | None = None
    patch: Callout | None = None


Meaning = Union[Callout, Command]


def meaning_json(meaning: Meaning | None) -> dict[str, Any] | None:
    """The published JSON shape of a meaning."""
    if meaning is None:
        return None
    shape = meaning.model_dump(mode="json", exclude={"patch"})
    return {name: value for name, value in shape.items() if value is not None or name not in _ONLY_WHEN_SAID}


def meaning_from_json(shape: dict[str, Any] | None) -> Meaning | None:
    """The meaning behind its JSON shape; raises pydantic.ValidationError for a shape that is neither."""
    if shape is None:
        return None
    return (Command if "command" in shape else Callout).model_validate(shape)
