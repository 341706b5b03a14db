"""The table (CSV) of what lies in a yard, as spreadsheets of several countries save it; and its cells, each as certain
as it is written.

What has two readings is no number: "1,800" may be one point eight or a thousand eight hundred. It is told with its
line.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Mapping, Sequence

from callout.errors import BadInput
from callout.values import Length
from callout.values.length import written_length

#: The columns of the table. `what` is a strut, brace, lateral, diagonal, extension, coupler, timber, or any other part.
COLUMNS = ("what", "length", "open", "quantity", "where", "weight_lb", "section", "variant", "name")
MOST_ROWS = 2_000
_BETWEEN = (",", ";", "\t")
_NUMBERS = ("length", "open", "quantity", "weight_lb")


def table_text(raw: bytes, file: str) -> str:
    """The letters of a table: UTF-8, UTF-16 with or without its mark, else the Latin letters of Windows."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        ways: tuple[str, ...] = ("utf-16",)
    elif b"\x00" in raw[:200]:
        ways = ("utf-16-le" if raw[1:2] == b"\x00" else "utf-16-be",)
    else:
        ways = ("utf-8-sig", "cp1252", "latin-1")
    for way in ways:
        try:
            return raw.decode(way)
        except UnicodeDecodeError:
            continue
    raise BadInput(f"{file}: no text; save it from the spreadsheet as CSV (UTF-8)")


def read_table(text: str, file: str) -> list[dict[str, str]]:
    """The rows of a table, each with its line; what is wrong with a row stands under "wrong". Commas, semicolons or
    tabs stand between the fields. Raises BadInput where the head line is none."""
    text = text.lstrip("\ufeff")
    head = next((line for line in text.splitlines() if line.strip()), "")
    between = max(_BETWEEN, key=lambda mark: (_known(head, mark), head.count(mark)))
    reader = csv.reader(io.StringIO(text), delimiter=between)
    rows: list[dict[str, str]] = []
    columns: list[str] = []
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if not columns:
                columns = _columns(cells, f"{file}, line {reader.line_num}")
                continue
            rows.append(_row(cells, columns, between, reader.line_num))
    except csv.Error as wrong:
        raise BadInput(f"{file}, line {reader.line_num}: not a table ({wrong})") from None
    if not columns:
        raise BadInput(f"{file}: empty; callout stock --columns prints an example")
    if len(rows) > MOST_ROWS:
        raise BadInput(f"{file}: over {MOST_ROWS} rows; join those of one kind")
    return rows


def _known(head: str, between: str) -> int:
    return sum(_column(cell) in COLUMNS for cell in head.split(between))


def _column(cell: str) -> str:
    """A column's name as COLUMNS has it: capitals, spaces and brackets do not matter."""
    return "_".join(re.findall(r"\w+", cell.casefold()))


def _columns(cells: Sequence[str], where: str) -> list[str]:
    found = [_column(cell) for cell in cells]
    odd = [cell.strip() for cell, name in zip(cells, found, strict=True) if name and name not in COLUMNS]
    twice = sorted({name for name in found if name and found.count(name) > 1})
    if odd or twice or "what" not in found:
        why = f"; there is no column {', '.join(map(repr, odd))}" if odd else ""
        if any("weight" in name.casefold() for name in odd):
            why += "; a weight is in pounds a piece, under weight_lb"
        why += f"; {', '.join(twice)} stands there twice" if twice else ""
        raise BadInput(f"{where}: the head line must name columns of: {', '.join(COLUMNS)}{why}")
    return found


def _row(cells: Sequence[str], columns: Sequence[str], between: str, line: int) -> dict[str, str]:
    row = dict.fromkeys(COLUMNS, "")
    row |= {name: " ".join(cell.split()) for name, cell in zip(columns, cells, strict=False) if name}
    row["line"] = str(line)
    nameless = any(cell.strip() for name, cell in zip(columns, cells, strict=False) if not name)
    if nameless or len(cells) > len(columns):
        point = "; a decimal has a point (1.80 m), a field with a comma stands in quotes" if between == "," else ""
        row["wrong"] = f"more fields than the head line has columns{point}"
        return row
    wrong = []
    for name in _NUMBERS:
        row[name], why = _with_a_point(row[name], between)
        wrong += [f"{name}: {why}"] if why else []
    if wrong:
        row["wrong"] = "; ".join(wrong)
    return row


_FIGURE = re.compile(r"\d+(?:[.,]\d+)+")


def _with_a_point(cell: str, between: str) -> tuple[str, str]:
    """A cell with a decimal point, or why its figure has two readings. Where semicolons or tabs stand between fields
    "1,80" is a decimal; three figures after a sign may be thousands."""
    for figure in _FIGURE.findall(cell):
        whole, after = re.split(r"[.,]", figure, maxsplit=1)
        if re.search(r"[.,]", after) or (len(after) == 3 and whole.strip("0") and ("," in figure or between != ",")):
            plain = re.sub(r"[.,]", "", figure)
            return cell, f"{figure!r} may be a decimal or thousands; write {plain}, or fewer figures after the point"
        if "," in figure and between == ",":
            return cell, f"{figure!r} has a comma; write it with a point: {whole}.{after}"
    return (_FIGURE.sub(lambda figure: figure[0].replace(",", "."), cell) if between != "," else cell), ""


_FEET = re.compile(r"(?<=\d)\s*(?:['\u2019\u2032]|feet|foot|ft)(?![a-z])\.?\s*-?\s*", re.I)
_INCHES = re.compile(r"(?<=\d)\s*(?:[\"\u201d\u2033]|''|inches|inch|in)(?![a-z])\.?", re.I)


def plain_length(cell: str) -> str:
    """A length as the stock file writes it: "6'", "6 feet" -> "6 ft"; "5' 6\\"" -> "5 ft 6 in"; "2 M" -> "2 m"."""
    inches = _INCHES.sub(" in", cell)
    return " ".join(_FEET.sub(" ft ", inches).replace("\u00bd", " 1/2").split()).lower()


def length_of(row: Mapping[str, str], column: str) -> Length:
    """The length in a cell. Raises ValueError that says what to write."""
    cell = plain_length(row.get(column, ""))
    if not cell:
        raise ValueError(f"{column} is empty; write it like 6 ft, 20 in or 2.4 m")
    try:
        value = written_length(cell)
    except ValueError as wrong:
        raise ValueError(f"{column}: {wrong}") from None
    if value <= Length(0):
        raise ValueError(f"{column} is {row[column]}; write a length over zero")
    return value


def whole_count(row: Mapping[str, str]) -> int:
    """The quantity of a row: "8" or "8.0". Raises ValueError that says what to write."""
    cell = row.get("quantity", "")
    if not re.fullmatch(r"\d{1,6}(?:\.0{1,2})?", cell):
        there = f"is {cell!r}" if cell else "is empty"
        raise ValueError(f"quantity {there}; write a whole quantity: how many lie there, 0 for none")
    return int(cell.split(".")[0])


def pounds(row: Mapping[str, str]) -> float:
    """The weight of one piece. Raises ValueError that says what to write."""
    cell = row.get("weight_lb", "")
    try:
        weight = float(cell)
    except ValueError:
        weight = math.nan
    if not (0 <= weight <= 5_000 and re.fullmatch(r"[\d.]+", cell)):
        there = f"is {cell!r}" if cell else "is empty"
        raise ValueError(f"weight_lb {there}; write the pounds of one piece, as 29 or 0.4")
    return weight
