"""The shapes of all that leaves the program as JSON, as pydantic models; published by `callout schema`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal, Union

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import core_schema

from callout.dialogue.records import VERSION, CountChange, Record, Role
from callout.language.outcome import Agreement, OutcomeName
from callout.shoring.sizeup import Sized
from callout.values import Callout, Command, Length


class _Generator(GenerateJsonSchema):
    """In what we write every field is there, said or not."""

    def field_is_required(
        self, field: core_schema.ModelField | core_schema.DataclassField | core_schema.TypedDictField, total: bool
    ) -> bool:
        always = self.mode == "serialization" and field["type"] == "model-field"
        return always or super().field_is_required(field, total)

    def encode_default(self, dft: Any) -> Any:
        if isinstance(dft, Length):
            return dft.text if self.mode == "validation" else dft.to_json()
        return super().encode_default(dft)


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid")


class PublishedCommand(Command):
    """Anything that is not a callout: a word of the conversation, a question, a line about the stock."""

    patch: None = Field(default=None, exclude=True)


PublishedMeaning = Union[Callout, PublishedCommand]
Confidence = Annotated[float, Field(ge=0, le=1)]


class HeardPart(_Shape):
    """One part of a meaning. `value` is a whole number, a word, or a length."""

    name: str
    value: Any
    confidence: Confidence | None
    agreement: Agreement | None


class Seconds(_Shape):
    audio: Annotated[float, Field(ge=0)]
    decode: Annotated[float, Field(ge=0)]


class HeardLine(_Shape):
    """One line of `callout hear --json` or `callout read --json`. `words`: readings, best first. `file` as given, null
    for typed words. `listener`: ears, typed, or a model's name.
    """

    file: str | None
    outcome: OutcomeName
    words: list[str]
    meaning: PublishedMeaning | None
    confidence: Confidence | None
    parts: list[HeardPart]
    reasons: list[str]
    seconds: Seconds
    listener: str


class NamedPieces(_Shape):
    """So many of one stock line."""

    name: str
    count: int


class PiecesHappened(_Shape):
    """Picked, placed or returned: for the build called by `number`, `item` of its parts list where one was meant.
    `stands`: not carried, but booked back to the standing shore that the build was to relocate."""

    number: int | None
    item: int | None
    pieces: list[NamedPieces]
    count: int
    stands: bool


class ReleasedHappened(_Shape):
    """`replaces`: a change order for a build of before; `relocates`: the build whose place this one takes."""

    number: int
    role: Role
    name: str | None
    replaces: bool
    relocates: int | None
    reused: list[NamedPieces]


class VoidedHappened(_Shape):
    what: Literal["readback", "half", "build", "stands", "substitute", "move"]


class CountsHappened(_Shape):
    changes: list[CountChange]


class SiteHappened(_Shape):
    """Fields of the site of `callout plan --json`; none: all that was said of the place is forgotten."""

    facts: dict[str, Any]


class StopHappened(_Shape):
    word: str


class AffirmedHappened(_Shape):
    keyed: bool


class InspectedHappened(_Shape):
    """A look at the standing shore that is called by `number`, booked or not signed yet: readings, whether tight, who
    signed."""

    number: int
    look: dict[str, Any]


class LookCalledHappened(_Shape):
    """What every standing shore is looked at for; `speed` of the wind in miles an hour."""

    reason: str
    speed: float | None


class SeenHappened(_Shape):
    """All that is known of the wall that is sized up, by the names of `callout sizeup --json`; none: another wall."""

    seen: dict[str, Any]


class SizedUpHappened(_Shape):
    result: Sized


class TakenHappened(_Shape):
    """Callouts that come of a size-up: each still waits for its readback and its affirm."""

    callouts: list[Callout]


class Event(Record):
    """One line of `callout listen --json`, `callout demo --json` or `callout log --json`. `happened`: what was picked,
    placed, returned, released, counted ...; null where the words say it all. `version` 1 had no `happened`."""

    version: Literal[2] = VERSION
    seq: int | None
    time: str | None
    data: dict[str, Any] = Field(default={}, exclude=True)
    happened: (
        PiecesHappened | ReleasedHappened | VoidedHappened | CountsHappened | SiteHappened | StopHappened
        | AffirmedHappened | InspectedHappened | LookCalledHappened | SeenHappened | SizedUpHappened | TakenHappened
        | None
    )  # fmt: skip


class VerdictLine(_Shape):
    """`callout log --verify --json`."""

    ok: bool
    lines: int
    problem: str | None


class MergeLine(_Shape):
    """`callout log --merge OTHER --json`. `builds`: their numbers -> the numbers here."""

    added: int
    known: int
    builds: dict[str, int]


class HandoverBuildPart(_Shape):
    name: str
    wanted: int
    picked: int
    where: str


class HandoverBuild(_Shape):
    build: int
    title: str
    height: str | None
    angle: int | None
    place: str
    given_by: str
    parts: list[HandoverBuildPart]
    short_of: list[str]


class HandoverStock(_Shape):
    """`on_hand` is null when no stock file was named; `counted_since` is what people's counts added since."""

    name: str
    on_hand: int | None
    reserved: int
    picked: int
    placed: int
    returned: int
    counted_since: int


class DueLook(_Shape):
    """`minutes` until the next look, negative when it is overdue."""

    at: str
    reason: str
    minutes: int
    why: str
    say: str


class MarkMoved(_Shape):
    """`level`: "steady", "look", or "out" where everybody leaves; `per_day` at the pace of the last two looks."""

    mark: str
    level: Literal["steady", "look", "out"]
    moved: Length
    before: Length
    per_day: Length | None
    say: str


class AfterCare(_Shape):
    """A standing shore since it was placed. `not_signed`: a look is begun that nobody has signed yet."""

    build: int
    stood_since: str
    looks: int
    last: str | None
    signed: str | None
    tight: bool | None
    not_signed: bool
    due: DueLook
    movements: list[MarkMoved]


class Inspected(_Shape):
    """All shores that stand, and what is looked at on each."""

    shores: list[AfterCare]
    look_at: list[str]


class InspectLine(_Shape):
    """`callout inspect --json`."""

    inspect: Inspected


class SizeUpLine(_Shape):
    """`callout sizeup --json`."""

    sizeup: Sized


class HandoverSizeUp(Sized):
    """The last estimate of one wall, and when it was worked out."""

    model_config = ConfigDict(extra="forbid")

    time: str | None


class Handover(_Shape):
    """`callout log --handover --json`."""

    first: str | None
    last: str | None
    lines: int
    silent_since: str | None
    place: str
    waiting: list[str]
    set_aside: list[str]
    open: list[HandoverBuild]
    standing: list[HandoverBuild]
    aftercare: list[AfterCare]
    size_ups: list[HandoverSizeUp]
    stock: list[HandoverStock]
    alarms: list[tuple[str | None, str]]
    errors: list[tuple[str | None, str]]
    caution: str


def _plan() -> Any:
    from pydantic import create_model

    from callout.shoring.build import Build

    return create_model("Plan", __base__=_Shape, __doc__="`callout plan --json`.", build=(Build, ...))


def _stock() -> Any:
    from callout.shoring.stock import Stock

    return Stock


def _scoring(name: str) -> Callable[[], Any]:
    def get() -> Any:
        from callout.scoring import schemas

        return getattr(schemas, name)

    return get


def _first_try() -> Any:
    from callout.session.first_try import FirstTry

    return FirstTry


def _check() -> Any:
    from callout.session.readiness import Report

    return Report


def _board() -> Any:
    from callout.dialogue.board import Board

    return Board


class ReachLine(_Shape):
    """One pair of rakers from all of a stock; `why` is what is short, or why there is no such shore."""

    insertion: Length
    angle_deg: int
    outcome: Literal["whole", "short", "refused"]
    why: str


class SettingLine(_Shape):
    """What holds for one setting, and where it comes from: a variable, the file's path, or "default"."""

    setting: str
    value: str | bool | list[float] | None
    source: str
    variable: str
    says: str


#: name -> (what it is, how to get the model). A file that is read (stock) is described as it may be written.
MODELS: Mapping[str, tuple[str, Callable[[], Any]]] = {
    "heard": ("a line of callout hear --json and callout read --json", lambda: HeardLine),
    "meaning": ("what was meant: a callout or a command", lambda: PublishedMeaning),
    "event": ("a line of callout listen, demo and log --json", lambda: Event),
    "plan": ("the object of callout plan --json", _plan),
    "sizeup": ("the object of callout sizeup --json", lambda: SizeUpLine),
    "stock": ("a stock file (TOML), as you may write it", _stock),
    "score": ("the object of callout score --json", _scoring("Score")),
    "sample": ("a line of callout sample --json", _scoring("SampleLine")),
    "word": ("a line of callout words --json", _scoring("WordLine")),
    "radio": ("the object of callout radio --json", _scoring("RadioLine")),
    "record": ("a line of callout record --json", _scoring("RecordedLine")),
    "voices": ("a line of callout voices --json, and the object of callout voices learn --json", _scoring("VoiceLine")),
    "drill": ("a line of callout drill --json", _scoring("DrillLine")),
    "replay": ("a line of callout replay --json", _scoring("ReplayLine")),
    "check": ("the object of callout check --json", _check),
    "first_try": ("the object of callout check --practice --json", _first_try),
    "board": ("the object of callout board --json, and what callout.board gives", _board),
    "reach": ("a line of callout stock --json", lambda: ReachLine),
    "config": ("a line of callout config --json", lambda: SettingLine),
    "inspect": ("the object of callout inspect --json", lambda: InspectLine),
    "handover": ("the object of callout log --handover --json", lambda: Handover),
    "verify": ("the object of callout log --verify --json", lambda: VerdictLine),
    "merge": ("the object of callout log --merge OTHER --json", lambda: MergeLine),
}

#: A command whose lines have a name of their own -> that name.
COMMANDS = {"hear": "heard", "read": "heard", "listen": "event", "demo": "event", "log": "event", "words": "word"}


def schema_of(name: str) -> dict[str, Any]:
    """The JSON schema (draft 2020-12) of a published shape, by its name or a command's. Raises KeyError for others."""
    name = COMMANDS.get(name, name)
    model = MODELS[name][1]()
    mode: Literal["validation", "serialization"] = "validation" if name == "stock" else "serialization"
    found = TypeAdapter(model).json_schema(mode=mode, by_alias=True, schema_generator=_Generator)
    return {"$schema": _Generator.schema_dialect, **_without_examples(found), "title": f"callout {name}"}


def _without_examples(shape: Any) -> Any:
    """A schema describes what programs read; the examples in Python of the same docstrings are not for it."""
    if isinstance(shape, list):
        return [_without_examples(value) for value in shape]
    if not isinstance(shape, dict):
        return shape
    return {
        key: value.partition("\n\nExamples:")[0] if key == "description" and isinstance(value, str)
        else _without_examples(value)
        for key, value in shape.items()
    }  # fmt: skip
