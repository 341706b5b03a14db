"""Builds that were planned before, as `callout plan --json` printed them: what they were promised is theirs, and a
later build may be given pieces of it."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from pydantic import ValidationError

from callout.errors import BadInput
from callout.files import must_be_a_file
from callout.shoring.build import Build
from callout.shoring.holdings import Holdings, HoldingsRefused
from callout.shoring.plan import ShorePlanner, move_reserved, pieces_of
from callout.shoring.stock import Stock
from callout.values import Callout

LARGEST = 10_000_000  # characters: hundreds of builds
_MOVE = re.compile(r"\s*(\d{1,6})\s+(\S.*?)(?:\s+from\s+(\d{1,6}))?\s*")


class MoveAsked(NamedTuple):
    """Pieces to be moved to the new build; `giver` None: whoever was promised some last."""

    quantity: int
    name: str
    giver: int | None


def asked(text: str) -> MoveAsked:
    """ "2 eight foot strut from 1": BadInput if it is not so written."""
    found = _MOVE.fullmatch(text)
    if found is None or not int(found[1]):
        raise BadInput(f'--move {text!r}: write it like "2 eight foot strut", or "2 eight foot strut from 1"')
    return MoveAsked(int(found[1]), found[2], int(found[3]) if found[3] else None)


def read_builds(files: Sequence[Path]) -> dict[int, Build]:
    """The builds in the files, by number; the last line of a number counts. BadInput if a file holds anything else."""
    builds: dict[int, Build] = {}
    for file in files:
        try:
            must_be_a_file(file)
            with file.open(encoding="utf-8") as handle:
                text = handle.read(LARGEST + 1)
        except (OSError, ValueError) as wrong:
            raise BadInput(f"cannot read the builds {file}: {getattr(wrong, 'strerror', None) or wrong}") from None
        if len(text) > LARGEST:
            raise BadInput(f"{file}: too large for builds; name what callout plan --json printed")
        for number, line in enumerate(text.splitlines(), 1):
            if line.strip():
                build = _build(line, f"{file}, line {number}")
                builds[build.build_id] = build
    return builds


def _build(line: str, where: str) -> Build:
    try:
        shape = json.loads(line)
        return Build.model_validate(shape["build"])
    except (ValueError, ValidationError, KeyError, TypeError, RecursionError):
        raise BadInput(f"{where}: not a build; name what callout plan --json printed") from None


def ledger_of(builds: dict[int, Build], stock: Stock) -> Holdings:
    """The stock with what each build takes promised to it. BadInput if there is not so much."""
    ledger = Holdings.of(stock)
    for number, build in sorted(builds.items()):
        promised = ledger.promise(number, pieces_of(build))
        if isinstance(promised, HoldingsRefused):
            raise BadInput(f"build {number} was not planned from this stock: {promised.reason}; plan it again")
        ledger = promised
    return ledger


def giver_of(wanted: MoveAsked, ledger: Holdings) -> int:
    """Who gives: the build that is named, or the last one that was promised a piece of the line."""
    if wanted.giver is not None:
        return wanted.giver
    having = [build for build, held in ledger.builds.items() if wanted.name in held and held[wanted.name].reserved]
    if not having:
        raise BadInput(f"no build was promised a {wanted.name!r}; use the name as it stands in the parts list")
    return max(having)


def moved(
    wanted: MoveAsked, planner: ShorePlanner, requests: Mapping[int, Callout], stock: Stock, ledger: Holdings,
    build: Build,
) -> list[Build]:  # fmt: skip
    """The new build with the pieces moved to it, and the one that gave them. BadInput with the reason if it cannot be.

    `build` is the new one as it is planned without the move: that much is its own."""
    giver = giver_of(wanted, ledger)
    if giver not in requests or giver == build.build_id:
        raise BadInput(f"--move: there is no earlier build {giver}; give it with --after")
    holding = ledger.promise(build.build_id, pieces_of(build))
    found = holding if isinstance(holding, HoldingsRefused) else move_reserved(
        planner.plan, requests, stock, holding, name=wanted.name, quantity=wanted.quantity, giver=giver,
        receiver=build.build_id,
    )  # fmt: skip
    if isinstance(found, HoldingsRefused):
        raise BadInput(f"--move: {found.reason}")
    return [found.receiver, found.giver]
