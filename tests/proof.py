"""Run the long proofs: every `prove()` in tests/proof_*.py writes its page to docs/.

    python -m tests.proof            all of them
    python -m tests.proof shoring    those named
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path


def main(names: list[str]) -> int:
    known = sorted(file.stem.removeprefix("proof_") for file in Path(__file__).parent.glob("proof_*.py"))
    if unknown := [name for name in names if name not in known]:
        print(f"no proof is called {unknown[0]!r}; there are: {', '.join(known)}", file=sys.stderr)
        return 2
    for name in names or known:
        print(f"proving: {name}", file=sys.stderr, flush=True)
        importlib.import_module(f"tests.proof_{name}").prove()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
