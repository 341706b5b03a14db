"""The demonstration's transcript in the README: made by running it.

`python -m tests.transcript` writes it; `tests/test_readme.py` keeps it true (times aside).
"""

import re
import subprocess
import sys
import tempfile
from pathlib import Path

README = Path(__file__).resolve().parent.parent / "README.md"
BEGIN = "<!-- transcript: begin (made by running `callout demo`; a test keeps it true) -->\n"
END = "<!-- transcript: end -->\n"


def run_demo() -> list[str]:
    """The lines of a fresh demonstration, without the names of the WAV files and of its folder."""
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, "-m", "callout", "demo", "--folder", folder], capture_output=True, text=True, timeout=300
        )
        if done.returncode:
            raise RuntimeError(done.stderr)
        lines = done.stdout.replace(folder, "demo-output").splitlines()
    return [line.rstrip() for line in lines if "voice: " not in line]


def without_times(lines: list[str]) -> list[str]:
    return [re.sub(r"^\d\d:\d\d:\d\d", "hh:mm:ss", line) for line in lines]


def written() -> list[str]:
    """The lines that stand in the README."""
    block = README.read_text("utf-8").partition(BEGIN)[2].partition(END)[0]
    return [line for line in block.strip("\n").splitlines() if not line.startswith("```")]


if __name__ == "__main__":
    head, _, rest = README.read_text("utf-8").partition(BEGIN)
    README.write_text(
        head + BEGIN + "```text\n" + "\n".join(run_demo()) + "\n```\n" + END + rest.partition(END)[2], "utf-8"
    )
