"""Every speed of the project: `python -m tests.bench [NAME...]` runs the `bench()` of each tests/bench_NAME.py.

Each gives figures by name: seconds of processor time (the least of some runs), or a ratio to a peer in the same run.
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path


def main(wanted: list[str]) -> None:
    names = sorted(path.stem.removeprefix("bench_") for path in Path(__file__).parent.glob("bench_*.py"))
    if unknown := [name for name in wanted if name not in names]:
        raise SystemExit(f"no such benchmark: {', '.join(unknown)}; there are {', '.join(names)}")
    for name in wanted or names:
        print(name, flush=True)
        for figure, value in importlib.import_module(f"tests.bench_{name}").bench().items():
            print(f"  {figure:<58} {value:10.4f}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
