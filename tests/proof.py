"""Run the long proofs: every `prove()` in tests/proof_*.py writes its page to docs/.

    python -m tests.proof            all that this commit has not proven yet: stopped half-way, it goes on there
    python -m tests.proof shoring    those named, again

A proof that fails does not stop the others; the exit code is 1 if any failed.
"""

from __future__ import annotations

import importlib
import subprocess
import sys
import tempfile
import traceback
from pathlib import Path

HERE = Path(__file__).parent


def main(names: list[str]) -> int:
    known = sorted(file.stem.removeprefix("proof_") for file in HERE.glob("proof_*.py"))
    if unknown := [name for name in names if name not in known]:
        print(f"no proof is called {unknown[0]!r}; there are: {', '.join(known)}", file=sys.stderr)
        return 2
    notes = _notes()
    done = notes.read_text().split() if notes.exists() and not names else []
    failed = [name for name in names or known if name not in done and not _proven(name, notes)]
    if failed:
        print(f"failed: {', '.join(failed)}", file=sys.stderr)
        return 1
    if not names:
        notes.unlink(missing_ok=True)
    return 0


def _notes() -> Path:
    """Where it is noted which proofs this commit has behind it."""
    head = subprocess.run(["git", "rev-parse", "HEAD"], cwd=HERE, capture_output=True, text=True).stdout.strip()
    return Path(tempfile.gettempdir()) / f"callout-proofs-{head or 'loose'}.txt"


def _proven(name: str, notes: Path) -> bool:
    print(f"proving: {name}", file=sys.stderr, flush=True)
    try:
        importlib.import_module(f"tests.proof_{name}").prove()
    except (Exception, SystemExit):
        traceback.print_exc()
        return False
    with notes.open("a") as file:
        file.write(f"{name}\n")
    return True


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
