"""Would the tests notice? Small faults are put into the core, one at a time, and the tests of that topic must fail.

    python -m tests.mutants                    every topic
    python -m tests.mutants values agreement   some
    python -m tests.mutants --most 200 machine a sample of the faults of a topic, the same each time
    python -m tests.mutants --core             the faults that would hurt people, written by hand
    python -m tests.mutants --left commands    only those that the page lists as left, against the tests as they are
    python -m tests.mutants --page             only docs/proofs/faults-noticed.md, of all that was tried
    python -m tests.mutants --page machine     the same of some topics; the others stay as they stand there
    python -m tests.mutants --page --left commands   the same where only those left were tried again

The kinds of faults are those of mutmut. A fault inside a function is put into a copy of a process that has the tests
ready, by giving the function other code; for one that works when its module is imported the module is run once more in
such a copy, and if that is not noticed, a process imports the module with the fault in it. Only the tests that run the
line are run, the quickest first, each in that process alone. What was found is kept in the folder for temporary files,
so a stopped run is taken up again: a fault stays noticed as long as its file and the test that noticed it are the same.
Among the faults are files without one, which no test may notice. As many faults are tried at once as the machine has
processors. Prints the share noticed and every survivor; ends with 1 under the bar.
"""

from __future__ import annotations

import argparse
import difflib
import hashlib
import json
import os
import random
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from tests.mutants_made import Fault, faults_of
from tests.mutants_measured import Baseline, measure
from tests.mutants_page import Known, changed, listed, told, write
from tests.mutants_run import Bare, Likely, Ready

ROOT = Path(__file__).resolve().parent.parent
WORK = Path(tempfile.gettempdir()) / "callout-mutants"

#: The share of faults that the tests must notice.
BAR = 0.90


class Topic(NamedTuple):
    files: tuple[str, ...]
    tests: tuple[str, ...]


TOPICS = {
    "values": Topic(
        ("callout/values/length.py", "callout/values/meaning.py"),
        ("tests/test_values.py", "tests/test_language_outside.py"),
    ),
    "limits": Topic(
        ("callout/language/limits.py",),
        ("tests/test_language_limits.py", "tests/test_language_context.py", "tests/test_language_phrases.py"),
    ),
    "agreement": Topic(
        ("callout/hearing/agreement.py",),
        ("tests/test_hearing_agreement_parts.py", "tests/test_hearing_agreement.py"),
    ),
    "machine": Topic(
        ("callout/dialogue/machine.py",),
        (
            "tests/test_dialogue_confirming.py",
            "tests/test_dialogue_sources.py",
            "tests/test_dialogue_going_on.py",
            "tests/test_dialogue_asking.py",
            "tests/test_dialogue_say_again.py",
            "tests/test_dialogue_heard.py",
            "tests/test_dialogue_restart.py",
            "tests/test_dialogue_halted.py",
            "tests/test_dialogue_relocating.py",
            "tests/test_dialogue_teaching.py",
            "tests/test_scenes.py",
        ),
    ),
    "commands": Topic(
        ("callout/dialogue/commands.py", "callout/language/commands.py"),
        (
            "tests/test_dialogue_commands.py",
            "tests/test_dialogue_walking.py",
            "tests/test_dialogue_words.py",
            "tests/test_language_team.py",
            "tests/test_language_commands.py",
            "tests/test_dialogue_asking.py",
            "tests/test_dialogue_halted.py",
            "tests/test_dialogue_confirming.py",
            "tests/test_dialogue_going_on.py",
            "tests/test_dialogue_say_again.py",
            "tests/test_dialogue_undoing.py",
            "tests/test_dialogue_sources.py",
            "tests/test_dialogue_builds.py",
            "tests/test_dialogue_places.py",
            "tests/test_dialogue_relocating.py",
            "tests/test_dialogue_sizing.py",
            "tests/test_dialogue_looking.py",
            "tests/test_dialogue_supplying.py",
            "tests/test_dialogue_teaching.py",
            "tests/test_scenes.py",
        ),
    ),
    "memory": Topic(
        ("callout/journal/memory.py",),
        ("tests/test_journal_memory.py", "tests/test_journal_store.py", "tests/test_journal_restart.py"),
    ),
}


#: Faults that would hurt people, as somebody wrote them: (what is wrong, file, the right text, the wrong one, tests).
CORE = (
    ("the second ear always agrees", "callout/hearing/agreement.py", "with_it - without, with_it == top",
     "with_it - without, True", "agreement"),
    ("the second ear, deaf, agrees", "callout/hearing/agreement.py", "return -_MARGIN, False", "return -_MARGIN, True",
     "agreement"),
    ("one ear settles what the other contradicts", "callout/hearing/agreement.py",
     'needs_both = stake == "command" or (crossed and kind != "digits")', 'needs_both = stake == "command"',
     "agreement"),
    ("one ear is enough for a command", "callout/hearing/agreement.py",
     'needs_both = stake == "command" or (crossed and kind != "digits")', 'needs_both = crossed and kind != "digits"',
     "agreement"),
    ("no part needs both ears", "callout/hearing/agreement.py", "both = part.both or not part.needs_both",
     "both = True", "agreement"),
    ("the least odds are not asked for", "callout/hearing/agreement.py", ">= least:", ">= -least:", "agreement"),
    ("one of three settles what another contradicts", "callout/hearing/agreement_of_three.py",
     'needs_two = stake == "command" or (crossed and kind != "digits")', 'needs_two = stake == "command"', "agreement"),
    ("a team's model alone may affirm", "callout/hearing/team_model.py",
     " or _releases(resolution.meaning):", ":", "team model"),
    ("a yes for another caller counts", "callout/language/limits.py", "caller != context.caller", "False", "limits"),
    ("a height beyond the stock is taken", "callout/language/limits.py", "if not low <= callout.insertion <= high:",
     "if False:", "limits"),
    ("lines that the disk refused are forgotten", "callout/journal/memory.py", "self._waiting.append(kept)", "pass",
     "memory"),
)  # fmt: skip


class Notes:
    """What is known of faults from runs before, by a file in WORK."""

    def __init__(self, topic: str) -> None:
        WORK.mkdir(exist_ok=True)
        self._file = WORK / f"{topic}.jsonl"
        lines = self._file.read_text("utf-8").splitlines() if self._file.exists() else []
        self._known = {line["fault"]: line for line in map(json.loads, lines)}
        self._before = {line["change"]: line["by"] for line in self._known.values() if "change" in line}
        self._all = _digest(*(_content(test) for test in TOPICS[topic].tests))

    def known(self, fault: Fault) -> str | None:
        """The test that noticed it, "" where none did; None where that is not known."""
        line = self._known.get(_key(fault))
        if line is None:
            return None
        by: str = line["by"]
        return by if line["tests"] == self._tests(by) else None

    def likely(self, fault: Fault) -> str:
        """The test that noticed it when its file or that test was another; "" where none did."""
        by: str = self._before.get(_change(fault), "")
        return by

    def add(self, fault: Fault, by: str) -> None:
        line = {"fault": _key(fault), "change": _change(fault), "by": by, "tests": self._tests(by)}
        self._known[line["fault"]] = line
        with self._file.open("a", encoding="utf-8") as file:
            file.write(json.dumps(line) + "\n")

    def _tests(self, by: str) -> str:
        """The content of what noticed a fault; of all tests where that is none of them."""
        return _digest(_content(by.split("::")[0])) if by.startswith("tests/") else self._all


def made(file: str) -> list[Fault]:
    """The faults of a file, which take minutes to make: kept as long as it is the same."""
    kept = WORK / f"made-{_digest(file, _content(file))}.json"
    if kept.exists():
        return [Fault(file, *line) for line in json.loads(kept.read_text("utf-8"))]
    faults = faults_of(file)
    WORK.mkdir(exist_ok=True)
    kept.write_text(json.dumps([(fault.line, fault.inside, fault.source) for fault in faults]), "utf-8")
    return faults


def measured(tests: Sequence[str], files: Sequence[str]) -> Baseline:
    """What the tests do without a fault: kept as long as they and the program are the same."""
    WORK.mkdir(exist_ok=True)
    program = sorted(str(file.relative_to(ROOT)) for file in (ROOT / "callout").rglob("*.py"))
    texts = [part for file in (*tests, *files, *program) for part in (file, _content(file))]
    return measure(tests, files, WORK / f"measured-{_digest(*texts)}.json")


def _content(test: str) -> str:
    file = ROOT / test
    return file.read_text("utf-8") if file.exists() else ""


def _digest(*texts: str) -> str:
    return hashlib.sha256("\0".join(texts).encode()).hexdigest()[:20]


def _key(fault: Fault) -> str:
    return _digest(fault.file, fault.source)


def _change(fault: Fault) -> str:
    """The same for a fault whose file is changed elsewhere."""
    return _digest(fault.file, *map(str, changed(fault)[1:]))


def run(name: str, most: int | None, left: bool) -> tuple[int, list[Fault]]:
    """How many faults were tried, and those that no test noticed."""
    topic, notes = TOPICS[name], Notes(name)
    tests = [test for test in topic.tests if (ROOT / test).exists()]
    faults = [fault for file in topic.files for fault in made(file)]
    if left:
        faults = listed(name, faults)
    if most is not None and len(faults) > most:
        faults = sorted(random.Random(1).sample(faults, most), key=faults.index)
    open_ones = [fault for fault in faults if notes.known(fault) is None]
    if open_ones:
        base = measured(tests, topic.files)
        controls = [control for file in topic.files for control in _controls(file, base)]
        swapped = [f for f in open_ones if f.inside and not base.at_import(f)]
        at_import = [f for f in open_ones if f not in set(swapped)]
        likely = Likely({fault: by for fault in open_ones if (by := notes.likely(fault))})
        for fault, by in _tried(tests, base, controls, swapped, at_import, likely):
            notes.add(fault, by)
            print("." if by else "S", end="", file=sys.stderr, flush=True)
        print(file=sys.stderr)
    return len(faults), [fault for fault in faults if not notes.known(fault)]


def _controls(file: str, base: Baseline) -> list[Fault]:
    """The file as it is, one line further down: whoever notices that notices something else than faults."""
    tests = {line: names for line, names in base.lines[file].items() if "" not in names}
    line = max(tests, key=lambda line: len(tests[line]), default=None)
    return [] if line is None else [Fault(file, line, True, "\n" + (ROOT / file).read_text("utf-8"))]


def _tried(
    tests: list[str], base: Baseline, controls: list[Fault], swapped: list[Fault], at_import: list[Fault],
    likely: Likely,
) -> Iterator[tuple[Fault, str]]:  # fmt: skip
    """Each fault with the test that noticed it, "" where none did: the quick ways first, a new import for the rest."""
    left: list[Fault] = []
    for warm in (True, False):
        some = [fault for fault in swapped if base.once(fault) != warm]
        ready = Ready(tests, base, likely, warm=warm)
        for fault, by in ready.each([*(controls if warm else ()), *some]) if some else ():
            if fault in controls:
                _no_fault(fault, by)
            elif by is None:
                left.append(fault)
            else:
                yield fault, by
    # Where a module that is run once more does not pass for itself, its faults are not tried so.
    anew = Ready(tests, base, likely, anew=True)
    good = {fault.file for fault, by in (anew.each(controls) if at_import else ()) if by == ""}
    tried = [fault for fault in at_import if fault.file in good]
    left += [fault for fault in at_import if fault.file not in good]
    for fault, by in anew.each(tried) if tried else ():
        if by:
            yield fault, by
        else:
            left.append(fault)
    for fault, by in Bare(tests, base, likely).each([*controls, *left]) if left else ():
        if fault in controls:
            _no_fault(fault, by)
        else:
            yield fault, by


def _no_fault(control: Fault, by: str | None) -> None:
    assert by == "", f"{by} fails where there is no fault in {control.file}"


def core() -> list[str]:
    """Those of CORE that no test notices."""
    left, bases = [], {}
    for wrong, file, right, bad, topic in CORE:
        source = (ROOT / file).read_text("utf-8")
        assert source.count(right) == 1, f"{file} has no such line, or more than one: {right}"
        tests = list(TOPICS[topic].tests) if topic in TOPICS else ["tests/test_hearing_team_model.py"]
        line = source[: source.index(right)].count("\n") + 1
        fault = Fault(file, line, True, source.replace(right, bad))
        if (topic, file) not in bases:
            bases[topic, file] = measured(tests, [file])
        by = next(found for _, found in Bare(tests, bases[topic, file], Likely({})).each([fault]))
        print(f"{wrong}: {by or 'NOT NOTICED'}")
        left += [] if by else [wrong]
    return left


def known(name: str, left_alone: bool) -> Known:
    """What was found of a topic before. `left_alone`: of those that the page lists as left; the rest is as it says."""
    topic, notes = TOPICS[name], Notes(name)
    faults = [fault for file in topic.files for fault in made(file)]
    if left_alone:
        left = [fault for fault in listed(name, faults) if not notes.known(fault)]
        return Known(topic.files, *told(name, faults), left)
    by = {fault: notes.known(fault) for fault in faults}
    left = [fault for fault in faults if by[fault] == ""]
    return Known(topic.files, len(faults), sum(found is not None for found in by.values()), left)


def shown(fault: Fault) -> str:
    """A survivor as a difference."""
    before = (ROOT / fault.file).read_text("utf-8").splitlines()
    lines = difflib.unified_diff(before, fault.source.splitlines(), fault.file, "", lineterm="", n=0)
    return "\n".join(line for line in lines if not line.startswith("+++"))


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants")
    parser.add_argument("topics", nargs="*", metavar="TOPIC", help=", ".join(TOPICS))
    parser.add_argument("--most", type=int, help="try no more faults than so many of each topic")
    parser.add_argument("--left", action="store_true", help="only the faults that the page lists as left")
    parser.add_argument("--core", action="store_true", help="instead: the faults of the core that would hurt people")
    parser.add_argument("--page", action="store_true", help="instead: write the page of what was found before")
    given = parser.parse_args()
    if unknown := [topic for topic in given.topics if topic not in TOPICS]:
        sys.exit(f"no topic {unknown[0]!r}; there are {', '.join(TOPICS)}")
    os.chdir(ROOT)
    if given.core:
        sys.exit(1 if core() else 0)
    if given.page:
        chosen = given.topics or TOPICS
        return write({topic: known(topic, given.left) if topic in chosen else None for topic in TOPICS}, BAR)
    low = []
    for topic in given.topics or TOPICS:
        tried, survivors = run(topic, given.most, given.left)
        share = 1 - len(survivors) / tried if tried else 0.0
        print(f"{topic}: {tried - len(survivors)} of {tried} noticed ({share:.1%})")
        for fault in survivors:
            print(shown(fault))
        if share < BAR:
            low.append(topic)
    if low:
        sys.exit(f"under {BAR:.0%}: {', '.join(low)}")


if __name__ == "__main__":
    main()
