"""What a measurer types in the states of a callout, and what is near to it and is taken for nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from callout.files import read_toml
from callout.language.context import Context
from callout.language.resolve import resolve_text
from callout.values import Length
from tests.people_talk import PEOPLE, WAITING, context
from tests.test_language_phrases import in_short

SPACED = WAITING.model_copy(update={"rakers": 2, "spacing": Length.imperial(8)})
INCHES = WAITING.model_copy(update={"insertion": Length.imperial(11, 6)})
CONTEXTS: dict[str, Context] = {
    "idle": context("idle"),
    "waits": context("confirm"),
    "spaced": replace(context("confirm"), waiting=SPACED),
    "inches": replace(context("confirm"), waiting=INCHES),
    "walk": context("walk"),
    "height_asked": replace(context("gather"), asked="insertion"),
}
ROWS = [(state, said, wanted) for state, table in read_toml(PEOPLE / "measurers.toml").items()
        for said, wanted in table["rows"]]  # fmt: skip


@pytest.mark.parametrize(("state", "said", "wanted"), ROWS)
def test_row(state: str, said: str, wanted: str) -> None:
    found = in_short(resolve_text(said, CONTEXTS[state]))
    if wanted == "not understood":
        found = found.partition(":")[0]
    assert found == wanted
