"""Reading a stock file: every mistake becomes one line that says where it is and what to do."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from callout.errors import BadInput
from callout.shoring.stock import Stock
from callout.toml import tomllib
from callout.whole_file import must_be_a_file

PACKAGED = Path(__file__).with_name("stocks") / "demo.toml"
LARGEST = 1_000_000  # bytes: a stock of ten thousand lines
MOST_SHOWN = 8  # mistakes named at once


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
    try:
        return Stock.model_validate(shape)
    except ValidationError as wrong:
        mistakes = [_message(error, shape, text, file) for error in wrong.errors(include_url=False)]
    more = len(mistakes) - MOST_SHOWN
    raise BadInput("\n".join(mistakes[:MOST_SHOWN] + ([f"{file}: and {more} more mistakes"] if more > 0 else [])))


def _message(error: ErrorDetails, shape: dict[str, Any], text: str, file: str) -> str:
    where, field = _place(error["loc"], shape, text, file)
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
    hint = error["msg"][0].lower() + error["msg"][1:]
    return f"{where}: {field or 'the file'} is {value}; {hint}"


def _place(loc: tuple[int | str, ...], shape: dict[str, Any], text: str, file: str) -> tuple[str, str]:
    """Where a mistake stands ("stock.toml, line 14 (six foot strut)") and the field it is in."""
    if len(loc) < 2 or not isinstance(loc[1], int):
        return file, ".".join(str(part) for part in loc)
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
    return f"{file}{line}{label}", ".".join(str(part) for part in loc[2:])
