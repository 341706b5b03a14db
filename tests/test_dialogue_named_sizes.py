"""A count never beside the figures of a size, whatever a team calls its lines: count, then thing, then size."""

from __future__ import annotations

import csv
import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from callout.dialogue import callouts, wording
from callout.dialogue.machine import start
from callout.language.numerals import grouped_words
from callout.shoring.build import Build, Missing, Remedy
from callout.shoring.holdings import Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import Line, parse_stock
from callout.shoring.stock_start import stock_text
from callout.shoring.stock_table import COLUMNS, read_table
from callout.values import Callout, Length
from tests.dialogue_kit import Talk
from tests.test_cli_stock import filled_in
from tests.test_dialogue_words import typed

#: What no thing's name begins with once its size is said after it.
FIGURES = {word for n in (*range(21), 30, 40, 50, 60, 70, 80, 90, 100, 1000) for word in grouped_words(n)} | {
    "feet", "foot", "inch", "inches", "metre", "metres", "centimetre", "centimetres", "millimetre", "millimetres",
    "point", "half", "quarter", "quarters", "eighths", "by", "and", "pounds", "kilograms",
}  # fmt: skip

LENGTHS = st.one_of(
    st.builds(lambda feet: f"{feet} ft", st.integers(1, 30)),
    st.builds(lambda feet, inches: f"{feet} ft {inches} in", st.integers(1, 30), st.integers(1, 11)),
    st.builds(lambda inches, part: f"{inches} {part}/8 in", st.integers(1, 90), st.integers(1, 7)),
    st.builds(lambda inches: f"{inches} in", st.integers(2, 90)),
    st.builds(lambda halves: f"{halves}.5 ft", st.integers(1, 30)),
    st.builds(lambda feet: f"{feet} 1/2 ft", st.integers(1, 30)),
    st.builds(lambda cm: f"{cm / 100:.2f} m", st.integers(20, 900)),
    st.builds(lambda cm: f"{cm} cm", st.integers(20, 900)),
    st.builds(lambda mm: f"{mm} mm", st.integers(200, 9000)),
)
WHAT = st.sampled_from(
    ["strut", "brace", "lateral", "diagonal", "extension", "timber", "picket", "sheet", "rope", "wedge pair"]
)
ROWS = st.fixed_dictionaries({
    "what": WHAT, "length": LENGTHS, "variant": st.sampled_from(["", "16d", "2x4", "brick", "oak"]),
    "section": st.sampled_from(["2x4", "4x4", "6x6"]),
})  # fmt: skip


def generated(rows: list[dict[str, str]]) -> tuple[Line, ...]:
    out = io.StringIO()
    table = csv.DictWriter(out, COLUMNS)
    table.writeheader()
    for row in rows:
        opening = {"open": "40 ft"} if row["what"] in ("strut", "brace", "lateral", "diagonal") else {}
        table.writerow({**row, **opening, "quantity": "8", "where": "yard", "weight_lb": "20"})
    return parse_stock(filled_in(stock_text("yard", read_table(out.getvalue(), "yard.csv"), "yard.csv"))).lines


def count_thing_size(words: str, quantity: int, line: Line) -> None:
    said = words.split(", ")
    count = " ".join(grouped_words(quantity))
    at = next(i for i, one in enumerate(said) if one.startswith(f"{count} "))  # before it at most the digits
    thing = said[at].removeprefix(f"{count} ").split()
    assert not FIGURES & set(thing), words
    if line.size is not None:
        assert FIGURES & set(" ".join(said[at + 1 :]).split()), words


@given(st.lists(ROWS, min_size=1, max_size=4, unique_by=lambda row: tuple(row.values())), st.integers(1, 60))
def test_each_line_of_a_generated_stock_is_said_count_thing_size(rows: list[dict[str, str]], quantity: int) -> None:
    for line in generated(rows):
        count_thing_size(wording.some(line.name, quantity), quantity, line)
        count_thing_size(wording.some(line.name, quantity, line.size), quantity, line)
        count_thing_size(wording.some(line.name, quantity, line.size, clearly=True), quantity, line)
        count_thing_size(wording.pieces_on_hand([(line.name, quantity)]), quantity, line)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("8 ft strut", "two struts, eight feet"),
        ("strut, 8 ft", "two struts, eight feet"),
        ("strut 8 ft", "two struts, eight feet"),
        ("4 ft picket", "two pickets, four feet"),
        ("5' wall plate", "two wall plates, five feet"),
        ('20" brace', "two braces, one foot eight inches"),
        ("6.5 ft strut", "two struts, six feet six inches"),
        ("3 1/2 ft strut", "two struts, three feet six inches"),
        ("1 1/2 in pad", "two pads, one and one half inches"),
        ("2.4 m strut", "two struts, two point four metres"),
        ("timber, 4.80 m", "two timbers, four point eight zero metres"),
        ("4 x 4 timber, 16 ft", "two timbers, four by four, sixteen feet"),
        ("wedges 4x4", "two wedges, four by four"),
        ("50 lb sack", "two sacks, fifty pounds"),
        ("16d nail", "two nails, sixteen penny"),
        ("rescue strut 2", "two rescue struts, number two"),
        ("3 ton jack", "two pieces, three ton jack"),  # nobody knows of what the three are
        ("half gusset", "two half gussets"),
        ("half inch sheet", "two sheets, half inches"),
        ("3/4 sheet", "two sheets, three quarters"),
        ("foot plate", "two foot plates"),
        ("4x4", "two pieces, four by four"),
    ],
)  # fmt: skip
def test_the_size_in_a_name_is_said_after_the_thing(name: str, said: str) -> None:
    assert wording.some(name, 2) == said


@pytest.mark.parametrize(
    ("name", "asked"),
    [("8 ft strut", "eight foot struts"), ("strut, 8 ft", "eight foot struts"), ("wedges 4x4", "four by four wedges"),
     ("picket, 4 ft 6 in", "four foot six inch pickets"), ("rescue strut 2", "rescue struts number two")],
)  # fmt: skip
def test_a_line_is_named_as_people_ask_for_it(name: str, asked: str) -> None:
    assert wording.lines(name, 2) == asked


YARD = """what,length,open,quantity,where,weight_lb,section,variant,name
picket,4 ft,,40,rack G,11,,,
strut,8 ft,13 ft,8,rack B,46,,,
strut,6 ft,9 ft,8,rack B,29,,,6 ft strut
"""


def yard() -> Talk:
    stock = parse_stock(filled_in(stock_text("yard", read_table(YARD, "yard.csv"), "yard.csv")))
    return Talk(start(stock, ShorePlanner()))


def test_a_count_is_asked_for_and_told_by_count_then_size() -> None:
    talk = typed(yard(), "how many pickets")
    assert talk.said == ["forty pickets, four feet, on hand."]
    typed(talk, "we have three eight foot struts")
    assert talk.said == ["stock. three struts, eight feet, on hand. affirm, or negative."]
    typed(talk, "affirm", "how many six foot struts")
    assert talk.said == ["eight struts, six feet, on hand."]


def lacking(part: str, quantity: int, need: str, name: str | None = None, length: Length | None = None) -> Missing:
    return Missing(part=part, quantity=quantity, need=need, name=name, length=length)


def test_a_readback_sums_what_is_alike_before_it_names_the_first_kinds() -> None:
    """Two braces for two needs are two, not one; what is not named is said to be more."""
    braces = [lacking("brace", 1, f"mid brace {n}", length=Length.imperial(4)) for n in (1, 2)]
    wedges = lacking("wedge pair", 4, "shims", "2x4 wedge pair")
    ties = lacking("lateral", 2, "bay", "four foot lateral")
    assert wording.missing([wedges, *braces], 2) == "four wedge pairs, two by four; two braces, four feet"
    assert wording.missing([wedges, *braces, ties], 2) == (
        "four wedge pairs, two by four; two braces, four feet; and more"
    )


def test_before_the_affirm_no_less_is_short_than_after_it() -> None:
    talk = yard()
    request = Callout(insertion=Length.imperial(9), angle_deg=45, sole="solid")
    build = ShorePlanner().plan(1, request, talk.now.stock, Holdings.of(talk.now.stock))
    total: dict[str, int] = {}
    for lack in build.missing:
        words = wording.missing([lack.model_copy(update={"quantity": 1})])
        total[words] = total.get(words, 0) + lack.quantity
    assert len(total) > callouts.MOST_NAMED
    named = callouts.feasible(build).holes["missing"].split("; ")
    assert named[-1] == "and more"
    after = wording.missing(build.missing).replace(". ", "; ").split("; ")
    assert named[:-1] == after[: len(named) - 1]


def test_what_is_to_be_fetched_is_said_count_thing_size() -> None:
    way = Remedy(text="fetch 4 of 8 ft strut", fetch=(lacking("strut", 4, "rakers", "8 ft strut"),))
    assert wording.remedy(way, "") == "fetch four struts, eight feet"
    assert wording.remedy(way, "four struts, eight feet") == "fetch all of that"


def test_what_is_written_of_a_shortage_has_no_count_beside_a_size() -> None:
    stock = parse_stock(filled_in(stock_text("yard", read_table(YARD, "yard.csv"), "yard.csv")))
    build: Build = ShorePlanner().plan(
        1, Callout(insertion=Length.imperial(9), angle_deg=45), stock, Holdings.of(stock)
    )
    texts = [lack.text for lack in build.missing] + [way.text for way in build.remedies]
    assert any("picket, 4 ft" in text or "2x4 wedge pair" in text for text in texts)
    for text in texts:
        assert not re.search(r"(?:^|fetch |, )\d+ \d", text), text


def test_what_the_stock_file_lacks_has_a_way_on() -> None:
    talk = typed(yard(), "we have four wedge pairs")
    assert talk.said == ["no wedge pairs in the stock file. write that line there, then start callout again."]
