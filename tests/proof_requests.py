"""Ten thousand random requests, of every kind, from several stocks, at several places, through the independent checker.

    python -m tests.proof_requests [COUNT] [SEED]
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from pathlib import Path
from typing import Any, get_args

from callout.files import tomllib
from callout.shoring.holdings import Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.request import Site
from callout.shoring.stock import PACKAGED, Stock, load_stock
from callout.values import Callout, Length
from callout.values.meaning import Kind
from tests.checker_shoring import faults

OTHER = Path(__file__).parent / "data" / "other_kit.toml"


def stocks() -> list[tuple[Stock, dict[str, Any]]]:
    """The demonstration's stock, a poor one, and the other kit; each with its file as plain data."""
    found = []
    for path, times in ((PACKAGED, 1.0), (PACKAGED, 0.25), (OTHER, 1.0)):
        shape = tomllib.loads(path.read_text("utf-8"))
        for table in ("adjustable", "extension", "coupler", "timber", "piece"):
            for line in shape.get(table, []):
                line["quantity"] = int(line["quantity"] * times)
        stock = load_stock(path)
        found.append((stock.with_quantities({one.name: int(one.quantity * times) for one in stock.lines}), shape))
    return found


def request(pick: random.Random) -> tuple[Callout, Site]:
    """Anything that could be asked, some of it foolish."""
    kind = pick.choice(get_args(Kind))
    raker = kind in ("raker", "flying_raker")

    def length(low: float, high: float, chance: float = 1.0) -> Length | None:
        return Length.imperial(inches=round(pick.uniform(low, high) * 12)) if pick.random() < chance else None

    said: dict[str, Any] = {"kind": kind, "insertion": length(2, 22 if raker else 13)}
    place: dict[str, Any] = {"span": length(2, 12, 0.3)}
    if raker:
        said |= {
            "angle_deg": pick.choice([30, 45, 45, 60, 60, 60, 52]), "rakers": pick.choice([None, None, 1, 2, 3]),
            "ground": pick.choice([None, "soil", "pavement"]), "spacing": length(3, 8, 0.2),
            "wall_height": length(3, 40, 0.4), "wall_thickness": length(0.5, 2, 0.4), "lean": length(0, 1, 0.2),
        }  # fmt: skip
        if kind == "raker":
            said["sole"] = pick.choice([None, None, "solid", "split"])
        place |= {
            "wall_length": length(3, 30, 0.3), "uneven": length(-1, 1, 0.2), "soil": pick.choice([None, *_SOILS]),
            "wall": pick.choice([None, "brick", "concrete"]), "timber_beside": pick.choice([None, None, True]),
        }  # fmt: skip
        if pick.random() < 0.2:
            place |= {"force_lb": pick.uniform(500, 9000), "force_by": pick.choice([None, "the specialist"])}
    elif pick.random() < 0.6:
        place["load_lb"] = 10 ** pick.uniform(2.7, 5)
    return Callout.model_validate(said), Site.model_validate(place)


_SOILS = ("loam", "clay", "sand", "gravel")


def found_faults(count: int, seed: int) -> tuple[Counter[str], list[str]]:
    """How the requests ended, and every fault with its request."""
    pick, yards = random.Random(seed), stocks()
    ends: Counter[str] = Counter()
    wrong: list[str] = []
    for _ in range(count):
        asked, place = request(pick)
        stock, shape = pick.choice(yards)
        build = ShorePlanner(sites={1: place}).plan(1, asked, stock, Holdings.of(stock))
        ends["refused" if build.refused else "short" if build.missing else "whole"] += 1
        where = f"{asked.said} {place.model_dump(exclude_none=True)}"
        wrong += [f"{fault}: {where}" for fault in faults(build.to_json(), shape)]
    return ends, wrong


if __name__ == "__main__":
    asked_for, seeded = (int(word) for word in (*sys.argv[1:], "10000", "1")[:2])
    how, bad = found_faults(asked_for, seeded)
    print(f"{asked_for} requests: {dict(how)}; {len(bad)} faults")
    print("\n".join(bad[:40]))
    raise SystemExit(bool(bad))
