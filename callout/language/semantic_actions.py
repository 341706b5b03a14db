"""What the marks of the grammar do: a small machine that turns the words of one reading into a meaning.

Marks, as they stand between braces in the grammar files:
  +11, +1/2       add to the number in hand          x10, x100, x1000   multiply it
  .               decimals follow                    digit              the number is one digit of a string
  whole           keep the whole part, a fraction follows               /4, /8, /16   the number counts these parts
  ft in m cm mm   the number is so many of these; lengths add up; - turns the length round
  angle_deg, rakers, position, kind NAME ...         the number (or the given name) is this part of the callout
  for_whom, place                                    the words are this part
  command NAME, item, build, quantity, have, part NAME, length     a command and its details
  seen NAME, look NAME          of a wall that is sized up, of a shore that is looked at: the length or number in hand,
                                or the given value
  of NAME ... measured                               the length between is of that part; of nothing: not yet known
  is NAME                                            the unnamed length just said is of that part
  correct, amend, restart, again, stump               how a correction or a repetition goes on
  bare number                                        an answer without its name
  caller, phrase     the words are the callsign of whoever answers; a phrase that is to be taught
  amount, instead                                    the number that a correction gives without its name; the wrong one
  skip            the words mean nothing             !NAME              a complaint: cannot be taken, and why
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import Any, NamedTuple

from callout.errors import BadInput
from callout.values import Length
from callout.values.length import PER_FOOT, PER_INCH, PER_MM, PER_SIXTEENTH

LENGTH_PARTS = ("insertion", "span", "spacing", "wall_height", "wall_thickness", "lean")
NUMBER_PARTS = ("angle_deg", "rakers", "position")
_UNITS = {"ft": PER_FOOT, "in": PER_INCH, "m": 1000 * PER_MM, "cm": 10 * PER_MM, "mm": PER_MM}
_METRIC = ("m", "cm", "mm")


class Said(NamedTuple):
    """A part as it was said: words[start:end] of the utterance. A length may yet be no whole 1/80 mm (a Fraction)."""

    name: str
    value: Any
    start: int
    end: int


class ReadingState(NamedTuple):
    """One reading so far. `mark` is the first word not yet given to a part."""

    number: Fraction | None = None
    whole: Fraction | None = None
    scale: Fraction | None = None
    digits: str = ""
    length: Fraction | None = None
    metric: bool = False
    naming: str = ""
    led: bool = False  # "insertion" was said
    loose: Said | None = None
    mark: int = 0
    said: tuple[Said, ...] = ()
    done: tuple[tuple[Said, ...], ...] = ()
    details: tuple[Said, ...] = ()
    notes: tuple[str, ...] = ()
    corrected: int | None = None  # where the last "correction" ended
    amends: bool = False  # the utterance began with a correction of an earlier one
    refused: bool = False  # it began with "negative"
    restarted: bool = False
    repeated: int | None = None  # where the last "I say again" ended


Operation = Callable[[ReadingState, int], Iterable[ReadingState]]


def _add(amount: Fraction) -> Operation:
    def step(s: ReadingState, at: int) -> Iterable[ReadingState]:
        if s.scale is None:
            return (s._replace(number=(s.number or Fraction(0)) + amount),)
        return (s._replace(number=(s.number or Fraction(0)) + amount * s.scale, scale=s.scale / 10),)

    return step


def _times(factor: Fraction) -> Operation:
    return lambda s, at: (s._replace(number=(s.number or Fraction(0)) * factor),)


def _decimals(s: ReadingState, at: int) -> Iterable[ReadingState]:
    return (s._replace(scale=Fraction(1, 10)),)


def _digit(s: ReadingState, at: int) -> Iterable[ReadingState]:
    return (s._replace(digits=s.digits + str(s.number), number=None),)


def _whole(s: ReadingState, at: int) -> Iterable[ReadingState]:
    return (s._replace(whole=(s.whole or Fraction(0)) + (s.number or 0), number=None),)


def _unit(name: str) -> Operation:
    size, metric = _UNITS[name], name in _METRIC

    def step(s: ReadingState, at: int) -> Iterable[ReadingState]:
        count = (s.whole or Fraction(0)) + (s.number or 0)
        total = (s.length or Fraction(0)) + count * size
        return (s._replace(length=total, metric=metric, number=None, whole=None, scale=None),)

    return step


def _downward(s: ReadingState, at: int) -> Iterable[ReadingState]:
    return (s._replace(length=-(s.length or Fraction(0))),)


def _give(s: ReadingState, name: str, value: Any, at: int) -> tuple[ReadingState, ...]:
    """Put a part into the callout; saying it twice differently forks, and the fork says so."""
    s = s._replace(number=None, whole=None, scale=None, length=None)
    part = Said(name, value, s.mark, at)
    old = next((p for p in s.said if p.name == name), None)
    if old is None or _void(s, old) or old.value == value:
        kept = tuple(p for p in s.said if p.name != name)
        return (s._replace(said=(*kept, part), mark=at),)
    if any(note.startswith("twice ") for note in s.notes):
        return ()
    kept = tuple(p for p in s.said if p.name != name)
    s = s._replace(mark=at, notes=(*s.notes, f"twice {name}"))
    return (s, s._replace(said=(*kept, part)))


def _void(s: ReadingState, part: Said) -> bool:
    """Whether a part was said before the last correction, so that another may take its place."""
    return s.corrected is not None and part.end <= s.corrected


def _of(name: str) -> Operation:
    led = name == "insertion"
    return lambda s, at: (s._replace(naming=name, led=s.led or led),)


def _measured(s: ReadingState, at: int) -> Iterable[ReadingState]:
    """A length is complete: give it to the part named before it, or keep it loose until its name comes."""
    name = s.naming
    value = s.length or Fraction(0)
    if name == "lean inward":
        name, value = "lean", -value
    if name in ("nothing", "wall"):
        if s.loose is not None:
            return ()
        loose = s._replace(number=None, whole=None, scale=None, length=None, mark=at)
        loose = loose._replace(loose=Said(name, value, s.mark, at))
        return (loose, *(new for part in _unnamed(s, name) for new in _give(s, part, value, at)))
    if name == "insertion" and any(p.name == name and not _void(s, p) for p in s.said):
        s = s._replace(said=(), done=(*s.done, s.said))
    return _give(s, name, value, at)


def _measured_loose(s: ReadingState, at: int) -> Iterable[ReadingState]:
    """A length without a name where one is needed: taken for the insertion, with the complaint."""
    if s.done or any(p.name == "insertion" for p in s.said):
        return ()
    return _give(s._replace(notes=(*s.notes, "no lead")), "insertion", s.length, at)


def _unnamed(s: ReadingState, name: str) -> list[str]:
    """The parts that a length without a name can be, from what stands just before it."""
    if name == "wall":
        return []
    if s.mark in (s.corrected, s.repeated):
        return [p.name for p in s.said if p.name in LENGTH_PARTS] or ["insertion"]
    return ["spacing"] if s.said and s.said[-1].name == "rakers" and s.said[-1].end == s.mark else []


def _is(name: str) -> Operation:
    def step(s: ReadingState, at: int) -> Iterable[ReadingState]:
        if s.loose is None or s.loose.end != s.mark or (s.loose.name == "wall") == (name == "spacing"):
            return ()
        return _give(s._replace(loose=None, mark=s.loose.start), name, s.loose.value, at)

    return step


def _number_part(name: str) -> Operation:
    def step(s: ReadingState, at: int) -> Iterable[ReadingState]:
        return () if s.number is None else _give(s, name, int(s.number), at)

    return step


def _value_part(name: str, value: str) -> Operation:
    return lambda s, at: _give(s, name, value, at)


def _detail(name: str, value: str | None) -> Operation:
    def step(s: ReadingState, at: int) -> Iterable[ReadingState]:
        found: Any = value
        if name == "length":
            found = s.length
        elif value is None:
            counts = [count for count in (s.whole, s.number) if count is not None]
            found = int(sum(counts)) if counts else None
        s = s._replace(number=None, whole=None, scale=None, length=None)
        return (s._replace(details=(*s.details, Said(name, found, s.mark, at)), mark=at),)

    return step


def _fact(of: str, value: str | None) -> Operation:
    """One thing seen of a wall ("seen lean") or of a shore ("look crack"): the length or number in hand, or `value`."""

    def step(s: ReadingState, at: int) -> Iterable[ReadingState]:
        found: Any = s.length if value is None else value
        if found is None:
            found = int(s.number) if s.number is not None else at  # the words, where there is no number
        kept = s._replace(number=None, whole=None, scale=None, length=None, mark=at)
        return (kept._replace(details=(*s.details, Said(of, found, s.mark, at))),)

    return step


def _correct(s: ReadingState, at: int) -> Iterable[ReadingState]:
    amends = s.amends or not (s.said or s.done or s.notes)
    return () if s.loose else (s._replace(corrected=at, amends=amends, mark=at),)


def _amend(s: ReadingState, at: int) -> Iterable[ReadingState]:
    return () if s.said or s.done or s.loose else (s._replace(corrected=at, amends=True, refused=True, mark=at),)


def _restart(s: ReadingState, at: int) -> Iterable[ReadingState]:
    """All before it is as if not said: "correction, I say again"."""
    (s,) = _correct(s._replace(loose=None), at)
    return (s._replace(said=(), done=(), restarted=True),)


def _again(s: ReadingState, at: int) -> Iterable[ReadingState]:
    """What follows "I say again" must be the same as before, so it corrects nothing."""
    if s.loose or (s.mark == s.corrected and not s.refused):
        return ()
    return (s._replace(mark=at, repeated=at, corrected=at if s.mark == s.corrected else s.corrected),)


def _stump(s: ReadingState, at: int) -> Iterable[ReadingState]:
    return (s._replace(number=None, mark=at, notes=(*s.notes, "stump")),)


def _bare_number(s: ReadingState, at: int) -> Iterable[ReadingState]:
    return _detail("bare_number", None)(s, at)


def _note(name: str) -> Operation:
    return lambda s, at: (s._replace(notes=(*s.notes, name)),)


def _skip(s: ReadingState, at: int) -> Iterable[ReadingState]:
    return (s._replace(mark=at, number=None, whole=None, scale=None, length=None),)


_PLAIN: dict[str, Operation] = {
    ".": _decimals,
    "digit": _digit,
    "whole": _whole,
    "correct": _correct,
    "restart": _restart,
    "again": _again,
    "amend": _amend,
    "stump": _stump,
    "-": _downward,
    "measured": _measured,
    "measured loose": _measured_loose,
    "bare number": _bare_number,
    "skip": _skip,
}
_DETAILS = frozenset({
    "command", "item", "build", "quantity", "have", "amount", "instead", "caller", "phrase", "part", "length",
})  # fmt: skip
_MADE: dict[tuple[str, ...], Operation] = {}


def _make(fields: tuple[str, ...]) -> Operation:
    text = " ".join(fields)
    name, value = fields[0], fields[1] if len(fields) > 1 else None
    if text in _PLAIN:
        return _PLAIN[text]
    if name[0] == "+":
        return _add(Fraction(name[1:]))
    if name[0] == "x":
        return _times(Fraction(name[1:]))
    if name[0] == "/":
        return _times(Fraction(1, int(name[1:])))
    if name[0] == "!":
        return _note(text[1:])
    if name in _UNITS:
        return _unit(name)
    if name == "of":
        return _of(text[3:])
    if name == "is" and value in LENGTH_PARTS:
        return _is(value)
    if name in NUMBER_PARTS:
        return _number_part(name)
    if name in ("kind", "sole", "ground") and value:
        return _value_part(name, value)
    if name in ("seen", "look") and value:
        return _fact(f"{name} {value}", fields[2] if len(fields) > 2 else None)
    if name in ("for_whom", "place"):
        return lambda s, at: _give(s, name, at, at)  # the words are put in at the end; two places are two values
    if name in _DETAILS:
        return _detail(name, value)
    raise BadInput(f"the grammar mark {{{text}}} is not known; the list of marks stands in docs/language.md")


def operation(fields: tuple[str, ...]) -> Operation:
    """The step for a mark of the grammar; the same object for the same mark. Raises BadInput for an unknown one."""
    if fields not in _MADE:
        _MADE[fields] = _make(fields)
    return _MADE[fields]


def exact(value: Fraction) -> Length | None:
    """The length, where it is a whole number of sixteenths of an inch or of millimetres: what a tape shows."""
    on_tape = value % PER_SIXTEENTH == 0 or value % PER_MM == 0
    return Length(int(value)) if on_tape else None


def nearest(value: Fraction, metric: bool) -> Length:
    """The nearest length that a tape of the same kind shows."""
    step = PER_MM if metric else PER_SIXTEENTH
    return Length(round(value / step) * step)
