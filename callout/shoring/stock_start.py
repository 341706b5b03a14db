"""A start for a team's stock file: from a table (CSV) of what lies in the yard, or an empty one to fill in.

What only the maker's document knows (the figures of the kit) is never guessed: those lines are there to be filled in,
and until they are the file is refused, each by name.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping
from typing import Any

from callout.errors import BadInput
from callout.shoring.kit import Kit
from callout.values import Length
from callout.values.length import written_length

#: The columns of the table. `what` is a strut, brace, lateral, diagonal, extension, coupler, timber, or any other part.
COLUMNS = ("what", "length", "open", "quantity", "where", "weight_lb", "section", "variant", "name")

EXAMPLE = """what,length,open,quantity,where,weight_lb,section,variant,name
strut,6 ft,9 ft,8,rack B,29,,,
brace,20 in,30 in,6,rack C,7,,,
extension,2 ft,,6,rack E,10,,,
timber,16 ft,,10,timber bay,44,4x4,,
anchor,,,60,crate 5,0.4,,brick,
picket,4 ft,,40,rack G,11,,,
nail,,,500,crate 8,0.02,,16d,
"""

ADJUSTABLE = ("strut", "brace", "lateral", "diagonal")
MOST_ROWS = 2_000


def read_table(text: str, file: str) -> list[dict[str, str]]:
    """The rows of a CSV table. Raises BadInput that names the line."""
    reader = csv.DictReader(io.StringIO(text.lstrip("\ufeff")))
    unknown = [name for name in reader.fieldnames or () if name not in COLUMNS]
    if not reader.fieldnames or "what" not in reader.fieldnames or unknown:
        odd = f"; there is no column {unknown[0]!r}" if unknown else ""
        raise BadInput(f"{file}, line 1: the head line must name columns of: {', '.join(COLUMNS)}{odd}")
    rows = []
    try:
        for row in reader:
            if None in row:
                raise BadInput(f"{file}, line {reader.line_num}: more fields than the head line has columns")
            filled = {name: (value or "").strip() for name, value in row.items()}
            if any(filled.values()):
                rows.append({**filled, "line": str(reader.line_num)})
    except csv.Error as wrong:
        raise BadInput(f"{file}, line {reader.line_num}: not a table ({wrong})") from None
    if len(rows) > MOST_ROWS:
        raise BadInput(f"{file}: over {MOST_ROWS} rows; join those of one kind")
    return rows


def stock_text(
    name: str, rows: Iterable[Mapping[str, str]], file: str, figures: Mapping[str, str] | None = None
) -> str:
    """A stock file with the rows in it, and the figures of the kit to fill in, but for those that are known already.
    Raises BadInput that names the row."""
    known = figures or {}
    lines = [
        f"# The stock of {' '.join(name.split())}. Weights are pounds a piece; lengths like 6 ft 6 in.",
        f"name = {json.dumps(name, ensure_ascii=False)}",
        'kerf = "1/8 in" # what the saw eats at each cut',
        "",
        "# What the fittings of your kit take off, from its maker's document. Fill in every line; none is guessed.",
        "[kit]",
        *(f"{field} = {json.dumps(known.get(field, 'FILL IN'))}"
          for field, about in Kit.model_fields.items() if about.is_required()),
        "# What holds where you write nothing; correct what your kit's document says otherwise:",
        *(f"# {field} = {_shown(about.default)}" for field, about in Kit.model_fields.items()
          if not about.is_required() and about.default not in (None, ())),
        "",
        "# What the maker rates the struts for, in pounds by length; without it every strut is NOT RATED.",
        "# [[kit.rating]]",
        '# family = "strut"',
        '# loads = [["8 ft", 0], ["12 ft", 0]]',
        '# source = "the maker\'s document"',
        '# grade = "P"',
    ]  # fmt: skip
    named: dict[str, int] = {}
    for row in rows:
        table, fields = _line(row, f"{file}, line {row['line']}")
        number = named[fields["name"]] = named.get(fields["name"], 0) + 1
        if number > 1:
            fields["name"] = f"{fields['name']} {number}"
        lines += ["", f"[[{table}]]"]
        lines += [f"{field} = {json.dumps(value, ensure_ascii=False)}" for field, value in fields.items()]
    return "\n".join(lines) + "\n"


def _shown(value: Any) -> str:
    return json.dumps(value.text if isinstance(value, Length) else value)


def _line(row: Mapping[str, str], where: str) -> tuple[str, dict[str, Any]]:
    """The table that a row belongs to, and its fields."""
    what, size, variant = row["what"].lower(), row.get("length", ""), row.get("variant", "")
    if not what:
        raise BadInput(f"{where}: what is it? Write strut, timber, picket ... under what")
    shared = _shared(row, where)
    if size:
        _length(size, where, "length")
    # The size last: in no list does a count stand beside its figures.
    own = row.get("name", "") or ", ".join(filter(None, (f"{variant} {what}".strip(), size)))
    if what in ADJUSTABLE:
        closed, opened = _length(size, where, "length"), _length(row.get("open", ""), where, "open")
        screw = Length(max(0, opened.eightieths - closed.eightieths)).text
        sizes = {"closed": size, "open": row["open"], "screw": screw}
        return "adjustable", {"name": own, "family": what, **sizes, **shared}
    if what == "extension":
        return "extension", {"name": own, "fits": ["strut"], "length": size, **shared}
    if what == "coupler":
        return "coupler", {"name": own, "fits": ["strut"], **shared}
    if what == "timber":
        section = row.get("section", "")
        if not section:
            raise BadInput(f"{where}: section is empty; write it as 4x4")
        own = row.get("name", "") or f"{section} timber, {size}"
        return "timber", {"name": own, "section": section, "length": size, **shared}
    more = {"variant": variant} if variant else {}
    return "piece", {"name": own, "part": what, **more, **({"length": size} if size else {}), **shared}


def _shared(row: Mapping[str, str], where: str) -> dict[str, Any]:
    try:
        return {"quantity": int(row.get("quantity", "")), "where": row["where"], "weight_lb": float(row["weight_lb"])}
    except (KeyError, ValueError):
        raise BadInput(f"{where}: write a whole quantity, where it lies, and weight_lb in pounds a piece") from None


def _length(text: str, where: str, column: str) -> Length:
    try:
        return written_length(text)
    except ValueError as wrong:
        raise BadInput(f"{where}: {column}: {wrong}") from None
