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
from callout.shoring.request import Site, Wall
from callout.shoring.stock import PACKAGED, Stock
from callout.values import Callout, Length
from callout.values.meaning import Kind
from tests.checker_shoring import faults

OTHER = Path(__file__).parent / "data" / "other_kit.toml"


def stocks() -> list[tuple[Stock, dict[str, Any]]]:
    """The demonstration's stock, a poor one, and two other kits; each with its file as plain data."""
    return [_yard(PACKAGED), _yard(PACKAGED, 0.25), _yard(OTHER), _plain_kit()]


def _yard(path: Path, times: float = 1.0) -> tuple[Stock, dict[str, Any]]:
    shape = tomllib.loads(path.read_text("utf-8"))
    for line in (one for table in _TABLES for one in shape.get(table, [])):
        line["quantity"] = int(line["quantity"] * times)
    return Stock.model_validate(shape), shape


def _plain_kit() -> tuple[Stock, dict[str, Any]]:
    """A third kit: long plates, no word of its tubes, a short table and ends that nobody rated."""
    shape = tomllib.loads(PACKAGED.read_text("utf-8"))
    shape["kit"] |= {"plate_length": "7 ft", "plate_hole_spacing": "6 in", "first_pickets": 3, "base_picket_holes": 3,
                     "picket_holes": [1, 2, 3], "set_step": "1/2 in", "full_bay_over": "9 ft"}  # fmt: skip
    del shape["kit"]["strut"]
    table = [["9 ft", 9000], ["14 ft", 5200]]
    shape["kit"]["rating"] = [{"family": "strut", "loads": table, "source": "the third invented kit", "grade": "P"}]
    for line in shape["piece"]:
        if line["part"] == "wall plate":
            line["length"] = "7 ft"
    return Stock.model_validate(shape), shape


def request(pick: random.Random) -> tuple[Callout, Site]:
    """Anything that could be asked, some of it foolish, half of it in metres."""
    kind, metric = pick.choice(get_args(Kind)), pick.random() < 0.5
    raker = kind in ("raker", "flying_raker")

    def length(low: float, high: float, chance: float = 1.0) -> Length | None:
        """Between so many feet: in inches, or in steps of 10 mm."""
        if pick.random() >= chance:
            return None
        feet = pick.uniform(low, high)
        return Length.mm(round(feet * 30.48) * 10) if metric else Length.imperial(inches=round(feet * 12))

    said: dict[str, Any] = {"kind": kind, "insertion": length(2, 22 if raker else 13), "span": length(0.3, 14, 0.15)}
    place: dict[str, Any] = {"span": length(2, 12, 0.3), "units": pick.choice([None, None, "feet", "metres"])}
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
            "wall": pick.choice([None, *get_args(Wall)]), "timber_beside": pick.choice([None, None, True]),
            "curb": length(0.2, 1, 0.1), "sole_thickness": length(0.2, 0.5, 0.1),
        }  # fmt: skip
        if pick.random() < 0.2:
            place |= {"force_lb": pick.uniform(500, 9000), "force_by": pick.choice([None, "the specialist"])}
    elif pick.random() < 0.7:
        place |= {"load_lb": 10 ** pick.uniform(2.7, 5), "post": pick.choice([None, None, "4x4", "6x6"])}
    return Callout.model_validate(said), Site.model_validate(place)


_SOILS = ("loam", "clay", "sand", "gravel")
_TABLES = ("adjustable", "extension", "coupler", "timber", "piece")


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
