"""Build the pages as a site: `python -m release.site [FOLDER]` (dist/site). A link that leads nowhere is an error."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def build(folder: Path) -> None:
    """Raises SystemExit with what mkdocs says where a page or a link is missing."""
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet", "-d", str(folder.resolve())],
        cwd=ROOT, env={**os.environ, "NO_MKDOCS_2_WARNING": "1"}, capture_output=True, text=True,
    )  # fmt: skip
    if done.returncode:
        raise SystemExit(done.stdout + done.stderr)


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "dist" / "site"
    build(target)
    print(f"wrote {target}; open {target / 'index.html'}")
    print(f"a browser searches it only when it is served: {sys.executable} -m http.server --directory {target}")
