"""What a stock can and cannot do: which shores it builds, which lines nobody can ask for or hear, which struts nobody
rated. Behind `callout stock FILE` and `callout check --stock FILE`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from callout.dialogue.speakable import text
from callout.language import grammar
from callout.shoring.not_taken import no_shore_takes
from callout.shoring.on_paper import wrapped
from callout.shoring.plan import Reach, ShorePlanner, reach
from callout.shoring.stock import Stock, lines_named

#: Without the tube no strut is checked as a column, and where it stands on a pad it is taken for a point.
NO_TUBE = (
    "The struts' tube, [kit.strut], is not given: no strut is checked as a column, and on a pad each is taken for a "
    "point, so that steep ones are refused. Take it from the maker's data; docs/stock.md has the lines."
)


@dataclass(frozen=True)
class StockReport:
    """`rows`: a pair of rakers at each height and angle, and what each is short of. The rest are names of lines:
    `unrated` struts have no figure in their maker's table; `unasked` cannot be asked for by voice; of `unsaid` the
    voice can say nothing; `not_taken` comes into no shore, each with what it may have meant; `no_tube`: the
    file does not give the struts' tube."""

    rows: tuple[Reach, ...]
    unrated: tuple[str, ...]
    unasked: tuple[str, ...]
    unsaid: tuple[str, ...]
    not_taken: tuple[tuple[str, str], ...]
    no_tube: bool

    def to_json(self) -> list[dict[str, Any]]:
        """One object a height and angle (`callout schema reach`)."""
        return [
            {"insertion": row.insertion.to_json(), "angle_deg": row.angle_deg, "outcome": row.outcome, "why": row.why}
            for row in self.rows
        ]

    def lines(self) -> list[str]:
        """The report for the eye."""
        return [*self._table(), *self._remarks()]

    def _table(self) -> list[str]:
        """A line a height: a pair of rakers at each angle, and what is short."""
        by_height: dict[str, dict[int, Reach]] = {}
        for row in self.rows:
            by_height.setdefault(row.insertion.text, {})[row.angle_deg] = row
        angles = sorted({row.angle_deg for row in self.rows})
        head = f"{'height':<8}" + "".join(f"{f'{angle} deg':<11}" for angle in angles)
        lines = ["A pair of rakers, from all of the stock:", "", head.rstrip()]
        for height, found in by_height.items():
            lines.append((f"{height:<8}" + "".join(f"{found[angle].outcome:<11}" for angle in angles)).rstrip())
            for angle in angles:
                if found[angle].why:
                    lines += wrapped(f"  at {angle}: {found[angle].why}", 9)
        return lines

    def _remarks(self) -> list[str]:
        found: list[str] = []
        if self.not_taken:
            found += ["", "no shore takes:"]
            for name, meant in self.not_taken:
                found += wrapped(f"  {name}" + (f"; did you mean {meant}?" if meant else ""), 4)
        if self.unrated:
            found += ["", f"NOT RATED by their maker's table: {', '.join(self.unrated)}"]
        if self.no_tube:
            found += ["", *wrapped(NO_TUBE, 0)]
        if self.unsaid:
            found += ["", "The voice cannot say these; name them in the letters of the callouts:",
                      *(f"  {name}" for name in self.unsaid)]  # fmt: skip
        if not self.unasked:
            return [*found, "", "every line can be asked for by voice"]
        return [*found, "", "These cannot be asked for by voice; give them a part that people name, or also_called:",
                *(f"  {name}" for name in self.unasked)]  # fmt: skip


def stock_report(stock: Stock) -> StockReport:
    """Plan each pair of rakers from all of the stock, and look at every line's name."""
    called = {line.name for part in grammar.load().parts for line in lines_named(stock, part)}
    rated = {rating.family for rating in stock.kit.rating}
    struts = [line for line in stock.adjustable if line.family == "strut"]
    return StockReport(
        rows=reach(stock, ShorePlanner()),
        unrated=tuple(line.name for line in struts if line.family not in rated),
        unasked=tuple(line.name for line in stock.lines if line.name not in called),
        not_taken=tuple(no_shore_takes(stock)),
        no_tube=bool(struts) and stock.kit.strut is None,
        unsaid=tuple(line.name for line in stock.lines if not any(letter.isalpha() for letter in text(line.name))),
    )
