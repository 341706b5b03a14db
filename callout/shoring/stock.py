"""The stock: what a team owns, where it lies and what it weighs, read from a TOML file and checked line by line.

Five kinds of line. `[[adjustable]]`: a member that is set to a length. `[[extension]]` and `[[coupler]]`: what makes
it longer. `[[timber]]`: what is cut to length. `[[piece]]`: everything taken as it is. Weights are pounds a piece.
The file only seeds the counts; what happens to them afterwards is in `callout.shoring.holdings`. Every mistake in a
file becomes one line that says where it is and what to do.
"""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from collections.abc import Iterator
from functools import cached_property
from itertools import takewhile
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import ErrorDetails

from callout.errors import BadInput, Mistakes
from callout.files import must_be_a_file, tomllib
from callout.shoring.kit import SAYS, Kit
from callout.shoring.taken_parts import known_part, plain_section
from callout.values import Length
from callout.values.length import WrittenLength


def _section(written: Any) -> Any:
    return plain_section(written) if isinstance(written, str) else written


def _part(written: Any) -> Any:
    return known_part(written) if isinstance(written, str) and written.strip() else written


Word = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^\S(.*\S)?$")]
#: Past these a figure in the file is a slip of the finger, and sums would leave the solver's exact range.
Count = Annotated[int, Field(ge=0, le=100_000, strict=True)]
Pounds = Annotated[float, Field(ge=0, le=5_000, allow_inf_nan=False)]
LONGEST = Length.imperial(1000)
MOST_LOCKS = 500
PACKAGED = Path(__file__).with_name("stocks") / "demo.toml"
LARGEST = 1_000_000  # bytes: a stock of ten thousand lines
MOST_SHOWN = 8  # mistakes named at once


class Line(BaseModel, ABC):
    """What every line of the stock says. `instead_of` names what it may stand in for, at the price of a substitution:
    a family, a section, a part, or a part with its variant ("anchor brick")."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Word
    quantity: Count
    where: Word
    weight_lb: Pounds
    instead_of: tuple[Word, ...] = ()
    also_called: tuple[Word, ...] = ()

    @property
    @abstractmethod
    def kind(self) -> str:
        """The part as needs and commands name it: a family, a section, "extension", "coupler" or a part."""

    @property
    @abstractmethod
    def size(self) -> Length | None:
        """The length a person names the piece by."""

    @model_validator(mode="after")
    def _lengths_are_real(self) -> Line:
        for field in type(self).model_fields:
            value = getattr(self, field)
            if isinstance(value, Length) and not Length(0) <= value <= LONGEST:
                raise ValueError(f"{field} is {value.text}; write a length from 0 to {LONGEST.text}")
        if self.size is not None and not self.size:
            raise ValueError("the length is zero; write the real one")
        return self


class Adjustable(Line):
    """A strut, lateral, diagonal or brace. From `closed` it is pulled out to a lock (one every `step`; 0: no locks),
    then `screw` gives the rest, up to `open`. `fixed_end` is the end that does not move: extensions go there."""

    family: Annotated[Word, BeforeValidator(_part)]
    closed: WrittenLength
    open: WrittenLength
    step: WrittenLength = Length(0)
    screw: WrittenLength
    fixed_end: Literal["head", "foot"] = "foot"

    @property
    def kind(self) -> str:
        return self.family

    @property
    def size(self) -> Length:
        return self.closed

    @model_validator(mode="after")
    def _opens(self) -> Adjustable:
        if self.closed >= self.open:
            raise ValueError("open must be longer than closed")
        if not Length(0) < self.screw <= self.open - self.closed:
            raise ValueError("screw must be over zero and at most what lies between closed and open")
        if not self.step and self.screw != self.open - self.closed:
            raise ValueError("without locks (step) the screw must give all that lies between closed and open")
        if self.step and self.open - self.closed > self.step * MOST_LOCKS:
            raise ValueError(f"step gives over {MOST_LOCKS} locks; write the distance between two")
        return self

    @property
    def locks(self) -> Iterator[Length]:
        """Every length it can lock at with its screw fully in, shortest first."""
        at = self.closed
        while at + self.screw <= self.open:
            yield at
            if not self.step:
                return
            at += self.step


class Extension(Line):
    """A fixed length put on the end that does not move, each with `couplers` couplers."""

    fits: tuple[Word, ...] = Field(min_length=1)
    length: WrittenLength
    couplers: Annotated[int, Field(ge=0, le=4)] = 1

    @property
    def kind(self) -> str:
        return "extension"

    @property
    def size(self) -> Length:
        return self.length


class Coupler(Line):
    """Joins an extension; `adds` is what it puts between the two ends."""

    fits: tuple[Word, ...] = Field(min_length=1)
    adds: WrittenLength = Length(0)

    @property
    def kind(self) -> str:
        return "coupler"

    @property
    def size(self) -> None:
        return None


class Timber(Line):
    """Timber of a nominal section ("4x4") at a length on hand, to be cut."""

    section: Annotated[Word, BeforeValidator(_section)]
    length: WrittenLength

    @property
    def kind(self) -> str:
        return self.section

    @property
    def size(self) -> Length:
        return self.length


class Piece(Line):
    """Anything taken as it is: plates, fittings, anchors, pickets, nails, wedges, sheets."""

    part: Annotated[Word, BeforeValidator(_part)]
    variant: Annotated[Word, BeforeValidator(_section)] | None = None
    length: WrittenLength | None = None

    @property
    def kind(self) -> str:
        return self.part

    @property
    def size(self) -> Length | None:
        return self.length


class Stock(BaseModel):
    """A whole stock file. `kerf` is what the saw eats at each cut. No two lines share a name."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Word
    kerf: WrittenLength = Length.imperial(0, 0, 2)
    kit: Kit
    # Every set of extensions and couplers is tried, so their kinds are few; no yard has as many as this.
    adjustable: Annotated[tuple[Adjustable, ...], Field(max_length=500)] = ()
    extension: Annotated[tuple[Extension, ...], Field(max_length=60)] = ()
    coupler: Annotated[tuple[Coupler, ...], Field(max_length=12)] = ()
    timber: Annotated[tuple[Timber, ...], Field(max_length=500)] = ()
    piece: Annotated[tuple[Piece, ...], Field(max_length=2000)] = ()

    @model_validator(mode="after")
    def _sound(self) -> Stock:
        if not Length(0) <= self.kerf <= Length.imperial(0, 2):
            raise ValueError(f"kerf is {self.kerf.text}; write what the saw eats, from 0 to 2 in")
        seen: set[str] = set()
        for line in self.lines:
            if line.name.casefold() in seen:
                raise ValueError(f"{line.name!r} stands there twice; join the two lines or rename one")
            seen.add(line.name.casefold())
        return self

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """Every line, by name: the order in which all that depends on order is worked out."""
        every: tuple[Line, ...] = (*self.adjustable, *self.extension, *self.coupler, *self.timber, *self.piece)
        return tuple(sorted(every, key=lambda line: line.name))

    @cached_property
    def used_up(self) -> frozenset[str]:
        """Lines that do not come back as they were: timber is sawn, nails are driven, sheets are ripped."""
        return frozenset(
            line.name for line in self.lines if isinstance(line, Timber) or line.kind in ("nail", "sheet")
        )

    @cached_property
    def by_name(self) -> dict[str, Line]:
        return {line.name: line for line in self.lines}

    def with_quantities(self, quantities: dict[str, int]) -> Stock:
        """The same stock with other counts (what-if questions, tests); names that it lacks are left out."""
        changed: dict[str, Any] = {
            table: tuple(
                line.model_copy(update={"quantity": quantities.get(line.name, line.quantity)})
                for line in getattr(self, table)
            )
            for table in ("adjustable", "extension", "coupler", "timber", "piece")
        }
        return Stock.model_construct(name=self.name, kerf=self.kerf, kit=self.kit, **changed)


def lines_named(stock: Stock, part: str, length: Length | None = None) -> tuple[Line, ...]:
    """The lines that `part` can mean, in one or many, of that length if one is given; in the stock's order.

    A line goes by its own name, its kind ("strut", "4x4", "anchor"), its variant and kind ("brick anchor"), what it is
    also called, and "timber" if it is to be sawn. A line's own name means that line alone.
    """
    wanted = _plain(part)
    found = [line for line in stock.lines if wanted in _names(line) and (length is None or line.size == length)]
    exact = [line for line in found if _plain(line.name) == wanted]
    return tuple(exact or found)


def _names(line: Line) -> set[str]:
    names = {line.name, line.kind, *line.also_called}
    if isinstance(line, Piece) and line.variant is not None:
        names.add(f"{line.variant} {line.part}")
    if isinstance(line, Timber):
        names.add("timber")
    return {_plain(name) for name in names}


def _plain(name: str) -> str:
    """Without case, underscores and the s of many."""
    words = name.replace("_", " ").casefold().split()
    if words and len(words[-1]) > 3 and words[-1].endswith("s") and not words[-1].endswith("ss"):
        words[-1] = words[-1][:-1]
    return " ".join(words)


def load_stock(path: str | Path | None = None) -> Stock:
    """The stock in the file `path`, or the invented one of the package. BadInput if it cannot be used."""
    file = PACKAGED if path is None else Path(path)
    try:
        if file.is_dir():
            raise BadInput(f"{file}: a folder, not a stock file; name the TOML file in it")
        must_be_a_file(file)
        with file.open("rb") as handle:
            raw = handle.read(LARGEST + 1)
    except FileNotFoundError:
        raise BadInput(f"{file}: no such stock file; check the name, or leave out --stock") from None
    except (OSError, ValueError) as broken:
        reason = getattr(broken, "strerror", None) or str(broken)
        raise BadInput(f"{file}: cannot be read ({reason}); check the name and its permissions") from None
    if len(raw) > LARGEST:
        raise BadInput(f"{file}: over {LARGEST:,} bytes, too large for a stock; name another file")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as broken:
        line = raw.count(b"\n", 0, broken.start) + 1
        raise BadInput(f"{file}, line {line}: not UTF-8 text; save the file as UTF-8") from None
    return parse_stock(text, str(file))


def parse_stock(text: str, file: str = "stock") -> Stock:
    """The stock that `text` (TOML) describes; `file` names it in messages. BadInput with a line for each mistake."""
    if not text.strip():
        raise BadInput(f"{file}: empty; copy the packaged stock and change its lines")
    try:
        shape = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as broken:
        reason = " ".join(str(broken).split()) or "nested too deep"
        at = re.search(r"\s*\(at line (\d+), column \d+\)", reason)
        line = at[1] if at else str(text.count("\n") + 1)
        reason = reason.replace(at[0], "") if at else reason
        raise BadInput(f"{file}, line {line}: not valid TOML ({reason[:120]}); mend that line") from None
    _filled_in(text, file)
    try:
        return Stock.model_validate(shape)
    except ValidationError as wrong:
        # A field that may be written in several ways has an error for each of them: the first is told.
        named = {_place(error["loc"], shape, text, file): error for error in reversed(wrong.errors(include_url=False))}
        mistakes = [_message(error, *place) for place, error in reversed(named.items())]
    more = len(mistakes) - MOST_SHOWN
    raise Mistakes(mistakes[:MOST_SHOWN] + ([f"{file}: and {more} more mistakes"] if more > 0 else []))


_TO_FILL = re.compile(r"\s*(?P<field>[\w.]+)\s*=\s*[\"']FILL IN[\"']")


def _filled_in(text: str, file: str) -> None:
    """Raises Mistakes with each line that waits for a figure of the kit's maker."""
    found = [(number, _TO_FILL.match(line)) for number, line in enumerate(text.splitlines(), 1)]
    left = [(number, line["field"]) for number, line in found if line is not None]
    if left:
        what = {field: SAYS.get(field, "see the maker's document") for _, field in left}
        raise Mistakes([f"{file}, line {number}: fill in {field}: {what[field]}" for number, field in left])


#: What is wrong with a value of another kind than the field's -> what to write.
_KINDS = {
    "string_type": "write it as text, in quotes",
    "is_instance_of": 'write a length in quotes, as "11 ft 6 in" or "3.35 m"',
    "bool_type": "write true or false",
    "bool_parsing": "write true or false",
    **dict.fromkeys(("int_type", "int_parsing", "int_from_float"), "write a whole number"),
    **dict.fromkeys(("float_type", "float_parsing"), "write a number"),
    **dict.fromkeys(("tuple_type", "list_type"), "write it as a list, in [ ]; what lies in the yard under [[ ]]"),
    **dict.fromkeys(("dict_type", "model_type", "dataclass_type"), "write it as a table, with a line for each field"),
}


def _message(error: ErrorDetails, where: str, field: str) -> str:
    kind, value = error["type"], " ".join(repr(error["input"]).split())[:60]
    if kind == "extra_forbidden":
        return f"{where}: unknown field {field!r}; remove it or correct its spelling"
    if kind == "missing":
        return f"{where}: {field!r} is missing; add it"
    if kind == "value_error":
        reason = str(error["ctx"]["error"]) if "ctx" in error else error["msg"]
        return f"{where}: {field + ': ' if field else ''}{reason}"
    if kind == "greater_than_equal" and field == "quantity":
        return f"{where}: quantity is {value}; write 0 or more"
    if kind == "too_long" and "actual_length" in error.get("ctx", {}):
        most, there = error["ctx"]["max_length"], error["ctx"]["actual_length"]
        return f"{where}: {there} lines of {field}, at most {most} can be used; leave some out"
    hint = _KINDS.get(kind) or error["msg"].replace("Input should", "it should")
    return f"{where}: {field or 'it'} is {value}; {hint}"


def _place(loc: tuple[int | str, ...], shape: dict[str, Any], text: str, file: str) -> tuple[str, str]:
    """Where a mistake stands ("stock.toml, line 14 (six foot strut)") and the field it is in."""
    if len(loc) < 2 or not isinstance(loc[1], int):
        return file, _field(loc)
    table, index = str(loc[0]), loc[1]
    headers = [
        number
        for number, line in enumerate(text.splitlines(), 1)
        if re.match(rf"\s*\[\[\s*[\"']?{re.escape(table)}[\"']?\s*\]\]", line)
    ]
    line = f", line {headers[index]}" if index < len(headers) else f", {table} {index + 1}"
    entry = shape[table][index]
    name = entry.get("name") if isinstance(entry, dict) else None
    label = f" ({' '.join(name.split())[:60]})" if isinstance(name, str) and name.strip() else ""
    return f"{file}{line}{label}", _field(loc[2:])


def _field(loc: tuple[int | str, ...]) -> str:
    """Its name as a person writes it, without what the reader calls its own ways to read it."""
    return ".".join(takewhile(lambda part: re.fullmatch(r"\w+", part), map(str, loc)))
