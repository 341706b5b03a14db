"""Colours of the large screen: for sun, for dark, and red for the night. Nothing is told by a colour alone.

What must be read has a contrast of 7:1 (WCAG 2.2, 1.4.6) in every theme; a test works it out. Pure red on black comes
to 5.25:1 only, so the red of the night is a little lighter.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rich.style import Style
from rich.text import Text

from callout.untrusted_text import for_terminal

#: A piece of a line and its role: "" plain, "quiet" for labels, "strong", "now" (the item in hand), "short", "alarm".
Span = tuple[str, str]
Line = list[Span]

ROLES = ("", "quiet", "strong", "now", "short", "alarm")


@dataclass(frozen=True)
class Theme:
    """`ground` behind everything; `loud` for what is short or silent, `on_loud` written on it."""

    name: str
    ground: str
    ink: str
    quiet: str
    loud: str
    on_loud: str

    def pair(self, role: str) -> tuple[str, str]:
        """The colour of the letters of a role, and what is behind them."""
        if role == "now":
            return self.ground, self.ink
        if role == "alarm":
            return self.on_loud, self.loud
        return {"quiet": self.quiet, "short": self.loud}.get(role, self.ink), self.ground

    def style(self, role: str) -> Style:
        ink, ground = self.pair(role)
        return Style(color=ink, bgcolor=ground, bold=role in ("strong", "now", "short", "alarm"))


THEMES = (
    Theme("dark", ground="#0b0e11", ink="#f4f4f4", quiet="#b4bcc4", loud="#ffb4a8", on_loud="#000000"),
    Theme("sun", ground="#ffffff", ink="#000000", quiet="#3a3a3a", loud="#8b0000", on_loud="#ffffff"),
    Theme("night-red", ground="#000000", ink="#ff6464", quiet="#ff6060", loud="#ff7a70", on_loud="#000000"),
)
NAMES = tuple(theme.name for theme in THEMES)


def theme(name: str) -> Theme:
    """A theme by its name. Raises KeyError for others."""
    return {each.name: each for each in THEMES}[name]


def paint(lines: Iterable[Line], colours: Theme) -> Text:
    """Lines as the terminal shows them."""
    found = Text(no_wrap=True, end="")
    for number, line in enumerate(lines):
        if number:
            found.append("\n")
        for text, role in line:
            found.append(for_terminal(text), colours.style(role))
    return found


def plain(lines: Iterable[Line]) -> str:
    """Lines without their colours."""
    return "\n".join("".join(text for text, _ in line).rstrip() for line in lines)
