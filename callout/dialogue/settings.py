"""How a conversation behaves: the second guard and the time-outs, all of it data (`settings.toml`)."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from callout.files import tomllib

_FILE = Path(__file__).with_name("settings.toml")

Guard = Literal["agreed_or_long", "long", "agreed_and_long"]


class Settings(BaseModel):
    """Times are seconds. There is no value of `guard` below "agreed_or_long": a bare heard word never releases."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    guard: Guard
    one_source: bool
    voiced: bool
    shown_counts: bool
    stop_words_over_voice: bool
    seconds_a_word: float = Field(ge=0)
    readback_again: float = Field(gt=0)
    park_after: float = Field(gt=0)
    half_wait: float = Field(gt=0)
    ask_again: float = Field(gt=0)
    at_once: float = Field(ge=0)
    times_asked: int = Field(ge=1)


@lru_cache(maxsize=1)
def _defaults() -> dict[str, Any]:
    table: dict[str, Any] = tomllib.loads(_FILE.read_text(encoding="utf-8"))
    return table


def load_settings(**changes: Any) -> Settings:
    """The settings of the package with `changes` put in; raises pydantic.ValidationError for a value out of range."""
    return Settings.model_validate({**_defaults(), **changes})
