"""A stock file by questions: what lies in the yard, part by part, then the figures that only the kit's maker knows.

An answer that cannot be one is told why, and its question comes again. What is left out stays to be filled in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from callout.shoring.kit import SAYS, Kit
from callout.shoring.stock_start import ADJUSTABLE
from callout.shoring.taken_parts import known_part
from callout.values.length import written_length

#: A question -> the answer. Raises EOFError where nobody answers any more.
Ask = Callable[[str], str]

#: Columns of the yard's table -> what is asked; those after the first depend on what it is.
WHAT = "What lies there? strut, brace, lateral, diagonal, extension, coupler, timber, or another (Enter: that is all)"
QUESTIONS = {
    "section": "Its section, as 4x4",
    "length": "Its length, as 6 ft or 20 in (closed, where it opens)",
    "open": "Its length when it is wide open",
    "variant": "Which kind, as brick or 16d (Enter: there is one kind only)",
    "quantity": "How many of them",
    "where": "Where they lie, as rack B",
    "weight_lb": "Pounds a piece",
}
#: What a kind of part is asked for, before how many, where and how heavy.
_SIZES = {**dict.fromkeys(ADJUSTABLE, ("length", "open")), "extension": ("length",), "coupler": (),
          "timber": ("section", "length")}  # fmt: skip
_OTHER = ("variant", "length")
#: These may be left out of any other part.
_WELCOME = frozenset(_OTHER)

#: What only the maker's document knows -> what is asked. Lengths.
KIT = {name: SAYS[name].capitalize() for name, about in Kit.model_fields.items() if about.is_required()}


@dataclass
class YardAnswers:
    """`rows` as of the table of a yard (`read_table`); `kit` the figures that were known, by their name in the file."""

    rows: list[dict[str, str]] = field(default_factory=list)
    kit: dict[str, str] = field(default_factory=dict)


def ask_about_yard(ask: Ask, tell: Callable[[str], object]) -> YardAnswers:
    """Ask until there is no more part, then for the kit. Where nobody answers any more, what is whole counts."""
    answers = YardAnswers()
    try:
        while what := known_part(ask(WHAT)):
            answers.rows.append({**_part(what, ask, tell), "line": str(len(answers.rows) + 1)})
        tell("The figures of your kit, from its maker's document. Enter leaves one to be filled in; none is guessed.")
        for name, question in KIT.items():
            if figure := _answer("length", question, ask, tell, welcome=True):
                answers.kit[name] = figure
    except EOFError:
        tell("that was all: what was not answered is left out")
    return answers


def _part(what: str, ask: Ask, tell: Callable[[str], object]) -> dict[str, str]:
    row = {"what": what}
    sizes = _SIZES.get(what, _OTHER)
    for column in (*sizes, "quantity", "where", "weight_lb"):
        welcome = sizes is _OTHER and column in _WELCOME
        row[column] = _answer(column, QUESTIONS[column], ask, tell, welcome, row.get("length", ""))
    return row


def _answer(
    column: str, question: str, ask: Ask, tell: Callable[[str], object], welcome: bool = False, closed: str = ""
) -> str:
    while True:
        given = " ".join(ask(question).split())
        if not given and welcome:
            return ""
        wrong = _wrong(column, given, closed)
        if not wrong:
            return given
        tell(wrong)


def _wrong(column: str, given: str, closed: str) -> str:
    """Why this cannot be the answer; empty when it can."""
    if not given:
        return "this one is needed"
    if column == "quantity":
        return "" if given.isascii() and given.isdigit() and len(given) < 7 else "write a whole number, as 8"
    if column == "weight_lb":
        try:
            return "" if 0 < float(given) < 100_000 else "write the pounds of one piece, as 29 or 0.4"
        except ValueError:
            return "write the pounds of one piece, as 29 or 0.4"
    if column in ("length", "open"):
        try:
            length = written_length(given)
        except ValueError as wrong:
            return str(wrong)
        if column == "open" and not length > written_length(closed):
            return f"wide open it is longer than {closed}"
    return ""
