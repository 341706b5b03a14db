"""Would the tests notice? Small faults are put into the core, one at a time, and the tests of that topic must fail.

    python -m tests.mutants                    every topic (an hour on two cores)
    python -m tests.mutants values agreement   some

mutmut makes the faults and runs the tests; it works in a copy outside the project and keeps there what it found, so a
stopped run is taken up again. Prints the share killed and every survivor, and ends with 1 under the bar.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
WORK = Path(tempfile.gettempdir()) / "callout-mutants"

#: The share of faults that the tests must notice.
BAR = 0.90

#: Functions that run when their module is imported: mutmut puts its faults in after that, so it cannot try them. What
#: they make is tested all the same (test_values: a callout survives its JSON; a wrong shape is refused).
AT_IMPORT = ("__get_pydantic_core_schema__",)

#: topic -> (the files in which faults are made, the tests that must notice).
TOPICS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "values": (("callout/values/*.py",), ("tests/test_values.py", "tests/test_language_outside.py")),
    "limits": (("callout/language/limits.py",), ("tests/test_language_context.py", "tests/test_language_phrases.py")),
    "agreement": (("callout/hearing/agreement.py",), ("tests/test_hearing_agreement.py",)),
    "machine": (
        ("callout/dialogue/machine.py",),
        ("tests/test_dialogue_confirming.py", "tests/test_dialogue_sources.py", "tests/test_dialogue_going_on.py"),
    ),
    "commands": (
        ("callout/dialogue/commands.py", "callout/language/commands.py"),
        ("tests/test_dialogue_walking.py", "tests/test_dialogue_words.py", "tests/test_language_commands.py"),
    ),
    "memory": (("callout/journal/memory.py",), ("tests/test_journal_store.py", "tests/test_journal_restart.py")),
}

COPIED = ("callout", "grammars", "audio_fixtures", "ears_training", "tests", "release", "docs", "README.md")


def lay_out(topic: str) -> Path:
    """A copy of the project for one topic, with mutmut's settings in it."""
    files, tests = TOPICS[topic]
    place = WORK / topic
    place.mkdir(parents=True, exist_ok=True)
    for name in COPIED:
        source, target = ROOT / name, place / name
        if source.is_dir():
            shutil.copytree(source, target, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__"))
        elif source.exists():
            shutil.copy2(source, target)
    own = (ROOT / "pyproject.toml").read_text("utf-8").replace("timeout = 300\n", "")
    settings = [
        "[tool.mutmut]", 'source_paths = ["callout"]', f"only_mutate = {list(files)}",
        f"also_copy = {list(COPIED[1:])}",
        f"pytest_add_cli_args_test_selection = {list(tests)}", "mutate_only_covered_lines = true",
        'pytest_add_cli_args = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:timeout", "--hypothesis-seed=1"]',
        "use_git_change_detection = false",
    ]  # fmt: skip
    (place / "pyproject.toml").write_text(own + "\n" + "\n".join(settings).replace("'", '"') + "\n", "utf-8")
    return place


def run(topic: str, jobs: int) -> tuple[Counter[str], list[str]]:
    """What became of the faults of a topic ("killed", "survived" ...), and the survivors as differences."""
    place = lay_out(topic)
    mutmut = [sys.executable, "-m", "mutmut"]
    with (place / "mutmut.log").open("w") as log:
        subprocess.run([*mutmut, "run", "--max-children", str(jobs)], cwd=place, check=True, stdout=log, stderr=log)
    results = [*mutmut, "results", "--all", "true"]
    listed = subprocess.run(results, cwd=place, capture_output=True, text=True, check=True)
    found = [
        (name, became) for name, became in re.findall(r"^\s*(\S+): (.+)$", listed.stdout, re.M)
        if not any(part in name for part in AT_IMPORT)
    ]  # fmt: skip
    survivors = [name for name, became in found if became in ("survived", "suspicious")]
    shown = [
        subprocess.run([*mutmut, "show", name], cwd=place, capture_output=True, text=True).stdout for name in survivors
    ]
    return Counter(became for _, became in found), shown


def main() -> None:
    wanted = sys.argv[1:] or list(TOPICS)
    unknown = [topic for topic in wanted if topic not in TOPICS]
    if unknown:
        sys.exit(f"no topic {unknown[0]!r}; there are {', '.join(TOPICS)}")
    low = []
    for topic in wanted:
        became, survivors = run(topic, jobs=2)
        noticed = became["killed"] + became["timeout"] + became["caught by type check"]
        tried = noticed + became["survived"] + became["suspicious"]
        share = noticed / tried if tried else 0.0
        print(f"{topic}: {noticed} of {tried} noticed ({share:.0%})")
        for difference in survivors:
            print(difference)
        if share < BAR:
            low.append(topic)
    if low:
        sys.exit(f"under {BAR:.0%}: {', '.join(low)}")


if __name__ == "__main__":
    main()
