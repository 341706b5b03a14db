"""A start for a team's stock file: from a table (CSV) of what lies in the yard, or an empty one to fill in.

What only the maker's document knows (the figures of the kit) is never guessed: those lines are there to be filled in,
and until they are the file is refused, each by name.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from callout.errors import Mistakes
from callout.shoring.kit import SAYS, Kit
from callout.shoring.stock_table import length_of, plain_length, pounds, whole_count
from callout.shoring.taken_parts import COUPLERS, EXTENSIONS, FAMILIES, known_part, plain_section, variants_of
from callout.values import Length

EXAMPLE = """what,length,open,quantity,where,weight_lb,section,variant,name
strut,6 ft,9 ft,8,rack B,29,,,
brace,20 in,30 in,6,rack C,7,,,
extension,2 ft,,6,rack E,10,,,
timber,16 ft,,10,timber bay,44,4x4,,
anchor,,,60,crate 5,0.4,,brick,
picket,4 ft,,40,rack G,11,,,
nail,,,500,crate 8,0.02,,16d,
"""

ADJUSTABLE = FAMILIES
#: Examples of what a kit has no default for.
WHEN_KNOWN = {"spacing": '"6 ft"', "spacing_metric": '"1.8 m"', "picket_holes": "[2, 5]"}
MOST_TOLD = 40  # mistakes named at once


def stock_text(
    name: str, rows: Iterable[Mapping[str, str]], file: str, figures: Mapping[str, str] | None = None
) -> str:
    """A stock file with the rows in it, and the figures of the kit to fill in, but for those that are known already.
    Raises Mistakes that name the rows."""
    known = figures or {}
    lines = [
        f"# The stock of {' '.join(name.split())}. Weights are pounds a piece; lengths like 6 ft 6 in.",
        f"name = {json.dumps(name, ensure_ascii=False)}",
        'kerf = "1/8 in" # what the saw eats at each cut',
        "",
        "# What the fittings of your kit take off, from its maker's document. Fill in every line; none is guessed.",
        "[kit]",
        *(f"{field} = {json.dumps(known.get(field, 'FILL IN'))} # {SAYS[field]}"
          for field, about in Kit.model_fields.items() if about.is_required()),
        "# What holds where you write nothing; correct what your kit's document says otherwise:",
        *(f"# {field} = {_shown(about.default)} # {SAYS[field]}" for field, about in Kit.model_fields.items()
          if not about.is_required() and about.default not in (None, ())),
        "# And what is left out where you write nothing:",
        *(f"# {field} = {written} # {SAYS[field]}" for field, written in WHEN_KNOWN.items()),
        "",
        "# The tube of the struts, from the maker's data. Without it no strut is checked as a column, and on a pad it",
        "# counts as a point, so that steep struts are refused.",
        "# [kit.strut]",
        '# material = "aluminium" # or steel',
        '# outside = "3 1/2 in" # how wide the tube is',
        '# wall = "1/4 in" # how thick its wall is',
        "# yield_psi = 35000",
        "# e_psi = 10100000",
        '# source = "the maker\'s document"',
        '# grade = "P"',
        "",
        "# What the maker rates the struts for, in pounds by length; without it every strut is NOT RATED.",
        "# [[kit.rating]]",
        '# family = "strut"',
        '# loads = [["8 ft", 0], ["12 ft", 0]]',
        '# source = "the maker\'s document"',
        '# grade = "P"',
    ]  # fmt: skip
    for table, fields in _lines(rows, file):
        lines += ["", f"[[{table}]]"]
        lines += [f"{field} = {json.dumps(value, ensure_ascii=False)}" for field, value in fields.items()]
    return "\n".join(lines) + "\n"


def _lines(rows: Iterable[Mapping[str, str]], file: str) -> list[tuple[str, dict[str, Any]]]:
    """The table of the file that each row belongs to, and its fields. Raises Mistakes with all that is wrong."""
    found: list[tuple[str, dict[str, Any]]] = []
    wrong: list[str] = []
    named: dict[str, str] = {}
    for row in rows:
        number = row["line"]
        if told := [row["wrong"]] if row.get("wrong") else _mistakes(row):
            wrong += [f"{file}, line {number}: {one}" for one in told]
            continue
        table, fields = _line(row)
        before = named.setdefault(fields["name"].casefold(), number)
        if before != number:
            wrong.append(f"{file}, lines {before} and {number}: two lines are alike: {fields['name']}; "
                         "join them, or give each a name of its own")  # fmt: skip
        found.append((table, fields))
    if wrong:
        more = len(wrong) - MOST_TOLD
        raise Mistakes(wrong[:MOST_TOLD] + ([f"{file}: and {more} more mistakes"] if more > 0 else []))
    return found


def _mistakes(row: Mapping[str, str]) -> list[str]:
    """All that is wrong with the cells of a row."""
    what = known_part(row["what"])
    if not what:
        return ["what is it? Write strut, timber, picket ... under what"]
    found = []
    needs_length = what in (*ADJUSTABLE, "timber") or what.endswith("extension")
    checks: list[Callable[[], object]] = [lambda: whole_count(row), lambda: pounds(row)]
    checks += [lambda: length_of(row, "length")] if needs_length or row.get("length") else []
    checks += [lambda: _opens(row)] if what in ADJUSTABLE else []
    for check in checks:
        try:
            check()
        except ValueError as wrong:
            found.append(str(wrong))
    if what == "timber" and not row.get("section"):
        found.append("section is empty; write it as 4x4")
    if not row.get("where"):
        found.append("where is empty; write where they lie, as rack B")
    return found


def _opens(row: Mapping[str, str]) -> None:
    opened = length_of(row, "open")
    try:
        closed = length_of(row, "length")
    except ValueError:
        return  # told already
    if opened <= closed:
        raise ValueError(f"open is {row['open']}, closed (length) {row['length']}: open must be longer than closed")


def _shown(value: Any) -> str:
    return json.dumps(value.text if isinstance(value, Length) else value)


def _line(row: Mapping[str, str]) -> tuple[str, dict[str, Any]]:
    """The table that a row without a mistake belongs to, and its fields."""
    what, size, variant = known_part(row["what"]), plain_length(row.get("length", "")), row.get("variant", "")
    section = plain_section(row.get("section", ""))
    shared = {"quantity": whole_count(row), "where": row["where"], "weight_lb": pounds(row)}
    # The size last: in no list does a count stand beside its figures.
    own = row.get("name", "") or ", ".join(filter(None, (f"{variant} {what}".strip(), size)))
    if what in ADJUSTABLE:
        screw = (length_of(row, "open") - length_of(row, "length")).text
        sizes = {"closed": size, "open": plain_length(row["open"]), "screw": screw}
        return "adjustable", {"name": own, "family": what, **sizes, **shared}
    if what in EXTENSIONS:
        return "extension", {"name": own, "fits": list(EXTENSIONS[what]), "length": size, **shared}
    if what in COUPLERS:
        return "coupler", {"name": own, "fits": list(COUPLERS[what]), **shared}
    if what == "timber":
        own = row.get("name", "") or f"{section} timber, {size}"
        return "timber", {"name": own, "section": section, "length": size, **shared}
    if section and not variant and section in variants_of(what):  # of a wedge pair the section is its kind
        variant = section
        own = row.get("name", "") or ", ".join(filter(None, (f"{variant} {what}", size)))
    more = {"variant": plain_section(variant)} if variant else {}
    return "piece", {"name": own, "part": what, **more, **({"length": size} if size else {}), **shared}
