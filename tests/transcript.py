"""The demonstration's transcript: docs/demo.md whole, its beginning in the README. Made by running it.

`python -m tests.transcript` writes both; `tests/test_readme.py` keeps them true (times aside).
"""

import re
import tempfile
from pathlib import Path

from tests.one_demonstration import Demonstration, demonstrated

ROOT = Path(__file__).resolve().parent.parent
README, PAGE = ROOT / "README.md", ROOT / "docs" / "demo.md"
BEGIN = "<!-- transcript: begin (made by `python -m tests.transcript`; a test keeps it true) -->\n"
END = "<!-- transcript: end -->\n"

#: The README shows so many lines, from the first call on.
SHOWN = 30
FIRST = "--- The measurer calls by radio"

HEAD = f"""# The demonstration

What `callout demo` shows: recordings of an invented scene go through both ears, each callout is read back, and only
"affirm" lets a build be worked out from the stock. The parts list is spoken item by item. Halfway through the program
is killed and started again on its journal. Nobody waits for the voice here; `callout demo --aloud` plays it.

{BEGIN}{END}"""


def lines_of(demonstration: Demonstration) -> list[str]:
    """Its lines, without the name of its folder."""
    if demonstration.returncode:
        raise RuntimeError(demonstration.stderr)
    lines = demonstration.stdout.replace(demonstration.folder, "demo-output").splitlines()
    return [line.rstrip() for line in lines]


def beginning(lines: list[str]) -> list[str]:
    """What the README shows of it."""
    first = next(at for at, line in enumerate(lines) if line.startswith(FIRST))
    return [*lines[first : first + SHOWN], "..."]


def without_times(lines: list[str]) -> list[str]:
    return [re.sub(r"^\d\d:\d\d:\d\d", "hh:mm:ss", line) for line in lines]


def written(page: Path) -> list[str]:
    """The lines that stand in a page."""
    block = page.read_text("utf-8").partition(BEGIN)[2].partition(END)[0]
    return [line for line in block.strip("\n").splitlines() if not line.startswith("```")]


def _put(text: str, lines: list[str]) -> str:
    head, _, rest = text.partition(BEGIN)
    return head + BEGIN + "```text\n" + "\n".join(lines) + "\n```\n" + END + rest.partition(END)[2]


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        found = lines_of(demonstrated(Path(folder)))
    PAGE.write_text(_put(HEAD, found), "utf-8")
    README.write_text(_put(README.read_text("utf-8"), beginning(found)), "utf-8")
