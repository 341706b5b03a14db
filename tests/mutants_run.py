"""Tests on a fault, each fault in a process of its own: copies of one that is ready, or one that imports anew."""

from __future__ import annotations

import contextlib
import gc
import importlib.abc
import importlib.util
import json
import os
import resource
import signal
import sys
import time
import types
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import coverage
import hypothesis
import pytest

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
    "--deselect=tests/test_dialogue_restart.py::test_a_hundred_thousand_records_are_folded_in_under_a_second",
)
AT_ONCE = int(os.environ.get("MUTANTS_AT_ONCE", os.cpu_count() or 1))
PATIENCE = 900.0  # seconds of the clock, for a fault that waits for ever; loops are ended by their processor time
#: What a process ended by a signal is "noticed" by.
ENDLESS = "it never ends"


@dataclass(frozen=True)
class Baseline:
    """What the tests do without a fault: which run which lines, and the processor seconds that each takes."""

    lines: dict[str, dict[int, list[str]]]
    seconds: dict[str, float]

    def at_import(self, fault: Fault) -> bool:
        """Its line is run while modules are imported or tests collected."""
        return "" in self.lines[fault.file].get(fault.line, [])

    def tests(self, fault: Fault) -> list[str]:
        """Those that must notice, the quickest first."""
        names = [name for name in self.lines[fault.file].get(fault.line, []) if name]
        return sorted(names, key=lambda name: self.seconds[name])

    def all(self) -> list[str]:
        return sorted(self.seconds, key=lambda name: self.seconds[name])

    def allowed(self, names: Sequence[str]) -> int:
        """Processor seconds until a loop is called endless."""
        return 20 + round(5 * sum(self.seconds[name] for name in names))


def measure(tests: Sequence[str], files: Sequence[str]) -> Baseline:
    """Runs the tests once. Ends the program where one fails without any fault."""
    with TemporaryDirectory() as folder:
        told = Path(folder) / "told.json"
        pid = _fork(lambda: _measured(tests, files, told), 3600)
        code, found = _ended(pid), json.loads(told.read_text()) if told.exists() else {"failed": []}
        if code != 0:
            why = "\n".join(found["failed"])
            sys.exit(f"the tests fail, or break, without any fault: pytest {' '.join(tests)}\n{why}")
    lines = {file: {int(line): names for line, names in by_line.items()} for file, by_line in found["lines"].items()}
    return Baseline(lines, found["seconds"])


def _measured(tests: Sequence[str], files: Sequence[str], told: Path) -> int:
    paths = {file: str(ROOT / file) for file in files}
    # Without the project's own settings: by those every process that a test starts is measured too, and talks of it on
    # its standard output, which some tests read.
    cover = coverage.Coverage(data_file=None, include=list(paths.values()), config_file=False)
    timer = _Timer(cover)
    cover.start()
    code = pytest.main([*ARGUMENTS, *tests], plugins=[timer])
    cover.stop()
    data = cover.get_data()
    lines = {file: data.contexts_by_lineno(path) for file, path in paths.items()}
    told.write_text(json.dumps({"lines": lines, "seconds": timer.seconds, "failed": timer.failed}))
    return int(code)


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


class Ready:
    """A process in which the tests are collected; each fault gets a copy of it. `anew`: the whole module is run once
    more in it, for a fault that works while it is imported. What others made of the module before stays as it was, so
    one that is noticed so is noticed, and one that is not says nothing yet."""

    def __init__(self, tests: Sequence[str], base: Baseline, *, anew: bool = False) -> None:
        self._tests, self._base, self._anew = tests, base, anew

    def each(self, faults: Sequence[Fault]) -> Iterator[tuple[Fault, str | None]]:
        """Each fault with the test that noticed it, "" where none did, None where its function was not found."""
        reading, writing = os.pipe()
        pid = _fork(lambda: self._serve(faults, writing), None)
        os.close(writing)
        with os.fdopen(reading, "r", encoding="utf-8") as lines:
            for line in lines:
                number, by = json.loads(line)
                yield faults[number], by
        _ended(pid)

    def _serve(self, faults: Sequence[Fault], writing: int) -> int:
        return int(pytest.main([*ARGUMENTS, *self._tests], plugins=[_Loop(faults, self._base, writing, self._anew)]))


class _Loop:
    """Takes the place of pytest's own loop over the tests."""

    def __init__(self, faults: Sequence[Fault], base: Baseline, writing: int, anew: bool) -> None:
        self._faults, self._writing, self._anew = faults, writing, anew
        self._tests = (lambda _: base.all()) if anew else base.tests
        self._allowed = base.allowed

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        standing = {} if self._anew else {file: _standing(file) for file in {fault.file for fault in self._faults}}
        gc.freeze()  # or every copy would touch all that is here, and so copy it

        def put_in(fault: Fault) -> int:
            return _renew(fault) if self._anew else _swap(fault, standing[fault.file])

        def work(number: int) -> Callable[[], int]:
            fault = self._faults[number]
            names = self._tests(fault)
            return lambda: put_in(fault) or _alone(session, [items[name] for name in names if name in items])

        limits = [self._allowed(self._tests(fault)) for fault in self._faults]
        for number, code, by in _at_once([work(number) for number in range(len(self._faults))], limits):
            line = json.dumps([number, None if code == NOT_FOUND else by])
            os.write(self._writing, f"{line}\n".encode())
        return True


NOT_FOUND = 77


#: Where a function stands in its file -> its code there, and the functions of this process that have it.
Standing = dict[tuple[Any, ...], tuple[types.CodeType, list[types.FunctionType]]]


def _standing(file: str) -> Standing:
    code = dict(_functions(compile((ROOT / file).read_text("utf-8"), file, "exec")))
    found: dict[types.CodeType, list[types.FunctionType]] = {one: [] for one in code.values()}
    for function in gc.get_objects():
        if isinstance(function, types.FunctionType) and function.__code__.co_filename.endswith(file):
            found.get(function.__code__, []).append(function)
    return {name: (one, found[one]) for name, one in code.items()}


def _swap(fault: Fault, standing: Standing) -> int:
    """Gives the functions that the fault is in their other code."""
    new = dict(_functions(compile(fault.source, fault.file, "exec")))
    change = [(new[name], made) for name, (old, made) in standing.items() if name in new and new[name] != old]
    for code, made in change:
        for function in made:
            function.__code__ = code
    return 0 if any(made for _, made in change) else NOT_FOUND


def _renew(fault: Fault) -> int:
    """Runs the module once more with the fault in it; whoever took a name from it gets what that is now."""
    module = sys.modules.get(fault.file.removesuffix(".py").replace("/", "."))
    if module is None:
        return NOT_FOUND
    before = dict(vars(module))
    try:
        exec(compile(fault.source, str(ROOT / fault.file), "exec"), module.__dict__)
    except Exception:
        _tell("importing it")
        return 1
    for other in list(sys.modules.values()):
        names = getattr(other, "__dict__", {})
        for name in [name for name, value in before.items() if names.get(name, module) is value]:
            names[name] = vars(module)[name]
    return 0


def _functions(code: types.CodeType, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], types.CodeType]]:
    """The outermost functions of a module or class, by where they stand."""
    count: dict[str, int] = {}
    for inner in code.co_consts:
        if not isinstance(inner, types.CodeType):
            continue
        number = count[inner.co_name] = count.get(inner.co_name, 0) + 1
        name = (*path, inner.co_name, number)
        if inner.co_flags & 0x1:  # CO_OPTIMIZED: a function, not a class
            yield name, inner
        else:
            yield from _functions(inner, name)


def _alone(session: pytest.Session, items: Sequence[pytest.Item]) -> int:
    """`_run` with a folder for temporary files that no other fault's process writes to."""
    with TemporaryDirectory() as folder:
        session.config._tmp_path_factory._basetemp = Path(folder).resolve()  # type: ignore[attr-defined]
        return _run(session, items)


def _run(session: pytest.Session, items: Sequence[pytest.Item]) -> int:
    """The tests until one fails, whose name is written to the pipe of this process."""
    for item, following in zip(items, [*items[1:], None], strict=True):
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.testsfailed:
            _tell(item.nodeid)
            return 1
    return 0


class Bare:
    """A process without the program; each fault gets a copy of it that imports the program with the fault in it."""

    def __init__(self, tests: Sequence[str], base: Baseline) -> None:
        self._tests, self._base = tests, base

    def each(self, faults: Sequence[Fault]) -> Iterator[tuple[Fault, str]]:
        names = self._base.all()
        works = [lambda fault=fault: self._tried(fault, names) for fault in faults]
        limits = [20 + self._base.allowed(names)] * len(faults)
        for number, _, by in _at_once(works, limits):
            yield faults[number], by

    def _tried(self, fault: Fault, names: Sequence[str]) -> int:
        sys.meta_path.insert(0, _Finder(fault))
        order = _Order(names)
        with TemporaryDirectory() as folder:
            own = f"--basetemp={folder}/of-pytest"
            code = int(pytest.main([*ARGUMENTS, own, "-x", *self._tests], plugins=[order]))
        if code:
            _tell(order.failed or "importing it")
        return code


class _Order:
    def __init__(self, names: Sequence[str]) -> None:
        self._at = {name: number for number, name in enumerate(names)}
        self.failed = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items.sort(key=lambda item: self._at.get(item.nodeid, len(self._at)))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid


class _Finder(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Finds the one module with the fault in it."""

    def __init__(self, fault: Fault) -> None:
        self._fault = fault
        self._name = fault.file.removesuffix(".py").replace("/", ".")

    def find_spec(self, name: str, path: object, target: object = None) -> Any:
        if name != self._name:
            return None
        return importlib.util.spec_from_file_location(name, ROOT / self._fault.file, loader=self)

    def create_module(self, spec: Any) -> None:
        return None

    def exec_module(self, module: types.ModuleType) -> None:
        exec(compile(self._fault.source, str(ROOT / self._fault.file), "exec"), module.__dict__)


_telling = -1  # in a process for one fault: where it tells which test noticed it


def _tell(name: str) -> None:
    os.write(_telling, name.encode())


def _at_once(works: Sequence[Callable[[], int]], limits: Sequence[int]) -> Iterator[tuple[int, int, str]]:
    """Runs each in a process of its own: number, how it ended, and what it told."""
    running: dict[int, tuple[int, int]] = {}
    waiting = list(range(len(works)))
    while waiting or running:
        while waiting and len(running) < AT_ONCE:
            number = waiting.pop(0)
            reading, writing = os.pipe()
            pid = _fork(works[number], limits[number], writing)
            os.close(writing)
            running[pid] = (number, reading)
        pid, status = os.wait()
        if pid not in running:
            continue
        number, reading = running.pop(pid)
        with os.fdopen(reading, "rb") as pipe:
            told = pipe.read().decode()
        code = os.waitstatus_to_exitcode(status)
        yield number, code, told or (ENDLESS if code < 0 else "" if code in (0, NOT_FOUND) else "the tests broke")


def _fork(work: Callable[[], int], seconds: int | None, telling: int = -1) -> int:
    """A copy of this process that does `work`, says nothing, and has so much processor time."""
    global _telling
    sys.stdout.flush()
    sys.stderr.flush()
    pid = os.fork()
    if pid:
        return pid
    code = 1
    with contextlib.suppress(BaseException):
        _telling = telling
        nothing = os.open(os.devnull, os.O_RDWR)
        for standard in (0, 1, 2):
            os.dup2(nothing, standard)
        if seconds is not None:
            spent = int(time.process_time())
            resource.setrlimit(resource.RLIMIT_CPU, (spent + seconds, spent + seconds + 5))
            signal.alarm(int(PATIENCE))
        code = work()
    os._exit(code)


def _ended(pid: int) -> int:
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


# The faults' processes keep no examples, look for no smaller one, and find the same each time.
hypothesis.settings.register_profile(
    "faults", database=None, derandomize=True, deadline=None,
    phases=[hypothesis.Phase.explicit, hypothesis.Phase.generate],
)  # fmt: skip
hypothesis.settings.load_profile("faults")
