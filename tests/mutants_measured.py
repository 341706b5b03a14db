"""What the tests of a topic do without any fault: which lines each runs, and how long it takes."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import coverage
import hypothesis
import pytest

from tests.mutants_apart import ended, forked
from tests.mutants_made import Fault

ROOT = Path(__file__).resolve().parent.parent
ARGUMENTS = (
    "-q",
    "-p",
    "no:cacheprovider",
    "-p",
    "no:timeout",
    "-p",
    "no:xdist",
    "-p",
    "no:cov",
    "--hypothesis-seed=1",
    # A bound on time: it fails of the measuring of lines, or of a busy machine, and says nothing about a fault.
    "--deselect=tests/test_dialogue_restart.py::test_a_hundred_thousand_records_are_folded_in_about_a_second",
)


@dataclass(frozen=True)
class Baseline:
    """What the tests do without a fault: which run which lines, and the processor seconds that each takes. `kept`: the
    lines that are run while the program reads its own files, which it does once."""

    lines: dict[str, dict[int, list[str]]]
    seconds: dict[str, float]
    kept: dict[str, list[int]]

    def at_import(self, fault: Fault) -> bool:
        """Its line is run while modules are imported or tests collected."""
        return "" in self._run_by(fault)

    def once(self, fault: Fault) -> bool:
        """What its line does may be kept from the first time, so nobody may have run it before."""
        return fault.line in self.kept[fault.file]

    def tests(self, fault: Fault) -> list[str]:
        """Those that must notice, the quickest first."""
        return sorted((name for name in self._run_by(fault) if name), key=lambda name: self.seconds[name])

    def _run_by(self, fault: Fault) -> list[str]:
        """Who runs the line; of a line that is no statement of its own, the one before."""
        lines = self.lines[fault.file]
        return lines.get(max((line for line in lines if line <= fault.line), default=0), [])

    def every(self, fault: Fault) -> list[str]:
        """All tests: first those that run its line, then the others, the quickest first."""
        mine = set(self._run_by(fault))
        return sorted(self.seconds, key=lambda name: (name not in mine, self.seconds[name]))

    def allowed(self, names: Sequence[str]) -> int:
        """Processor seconds until a loop is called endless."""
        return 20 + round(10 * sum(self.seconds[name] for name in names))


def measure(tests: Sequence[str], files: Sequence[str], kept: Path) -> Baseline:
    """Runs the tests once and keeps what was measured in a file. Ends the program where one fails without any fault."""
    if kept.exists():
        found = json.loads(kept.read_text("utf-8"))
        return Baseline(_by_number(found["lines"]), found["seconds"], found["kept"])
    base = _measure(tests, files)
    kept.write_text(json.dumps({"lines": base.lines, "seconds": base.seconds, "kept": base.kept}), "utf-8")
    return base


def _by_number(lines: Mapping[str, Mapping[str, list[str]]]) -> dict[str, dict[int, list[str]]]:
    return {file: {int(line): names for line, names in by_line.items()} for file, by_line in lines.items()}


def _measure(tests: Sequence[str], files: Sequence[str]) -> Baseline:
    with TemporaryDirectory() as folder:
        told = Path(folder) / "told.json"
        pid = forked(lambda: _measured(tests, files, told), 3600)
        code, found = ended(pid), json.loads(told.read_text()) if told.exists() else {"failed": []}
        if code != 0:
            why = "\n".join(found["failed"])
            sys.exit(f"the tests fail, or break, without any fault: pytest {' '.join(tests)}\n{why}")
        ended(forked(lambda: _read_once(files, told), 600))
        kept = json.loads(told.read_text())
    return Baseline(_by_number(found["lines"]), found["seconds"], kept)


def _measured(tests: Sequence[str], files: Sequence[str], told: Path) -> int:
    cover = _coverage(files)
    timer = _Timer(cover)
    cover.start()
    code = pytest.main([*ARGUMENTS, *tests], plugins=[timer])
    cover.stop()
    lines = {file: cover.get_data().contexts_by_lineno(str(ROOT / file)) for file in files}
    told.write_text(json.dumps({"lines": lines, "seconds": timer.seconds, "failed": timer.failed}))
    return int(code)


def _coverage(files: Sequence[str]) -> coverage.Coverage:
    # Without the project's own settings: by those every process that a test starts is measured too, and talks of it on
    # its standard output, which some tests read.
    return coverage.Coverage(data_file=None, include=[str(ROOT / file) for file in files], config_file=False)


def _read_once(files: Sequence[str], told: Path) -> int:
    cover = _coverage(files)
    cover.start()
    read_files()
    cover.stop()
    told.write_text(json.dumps({file: cover.get_data().lines(str(ROOT / file)) or [] for file in files}))
    return 0


def read_files() -> None:
    """What the program reads of its own files once, and keeps: nearly all the time of a short test is that."""
    from callout.dialogue import wording
    from callout.dialogue.settings import load_settings
    from callout.dialogue.state import Conversation, context
    from callout.language.resolve import resolve_text
    from callout.shoring.plan import ShorePlanner
    from callout.shoring.stock import load_stock

    now = Conversation(load_settings(), ShorePlanner(), load_stock())
    resolve_text("insertion eleven feet angle sixty", context(now, "measurer"))
    wording.sentence("plain.go_ahead")


class _Timer:
    def __init__(self, cover: coverage.Coverage) -> None:
        self.seconds: dict[str, float] = {}
        self.failed: list[str] = []  # each with its reason
        self._cover = cover

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.append(f"{report.nodeid}\n{report.longreprtext}")

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed:
            self.failed.append(f"{report.nodeid}\n{report.longreprtext}")

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self._cover.switch_context(item.nodeid)
        began = time.process_time()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid] = time.process_time() - began
            self._cover.switch_context("")


# The faults' processes keep no examples, look for no smaller one, and find the same each time.
hypothesis.settings.register_profile(
    "faults", database=None, derandomize=True, deadline=None,
    phases=[hypothesis.Phase.explicit, hypothesis.Phase.generate],
)  # fmt: skip
hypothesis.settings.load_profile("faults")
