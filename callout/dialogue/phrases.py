"""The sentences of `phrases.toml`. `phrase("confirming.readback", callout=...)` fills the holes with spoken words."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from callout.files import tomllib

_FILE = Path(__file__).with_name("phrases.toml")


@lru_cache(maxsize=1)
def templates() -> dict[str, str]:
    """Every sentence by its dotted name, holes unfilled."""
    found: dict[str, str] = {}

    def collect(prefix: str, table: dict[str, object]) -> None:
        for key, value in table.items():
            if isinstance(value, dict):
                collect(f"{prefix}{key}.", value)
            else:
                found[prefix + key] = str(value)

    collect("", tomllib.loads(_FILE.read_text(encoding="utf-8")))
    return found


def phrase(key: str, **holes: str) -> str:
    """The sentence named `key`; KeyError when the file lacks it or a hole is left open (a fault of the program)."""
    return templates()[key].format(**holes)
