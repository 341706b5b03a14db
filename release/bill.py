"""The bill of materials of what an installation brings (CycloneDX), by its own tool, checked against its schema.

    python release/bill.py OUT.json

The schema's check of web addresses is left out: it reads them by a grammar, 24 of 26 seconds of a processor.
jsonschema leaves it out by itself where rfc3987_syntax is not installed.
"""

from __future__ import annotations

import runpy
import sys
from pathlib import Path

PYPROJECT = Path(__file__).parent.parent / "pyproject.toml"


def main(out: str) -> None:
    sys.modules["rfc3987_syntax"] = None  # type: ignore[assignment]
    sys.argv = ["cyclonedx_py", "environment", sys.executable, "--pyproject", str(PYPROJECT), "--of", "JSON",
                "--output-file", out]  # fmt: skip
    runpy.run_module("cyclonedx_py", run_name="__main__")


if __name__ == "__main__":
    main(sys.argv[1])
