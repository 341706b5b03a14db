"""Tests on a fault, each fault in a process of its own: copies of one that is ready, or one that imports anew."""

from __future__ import annotations

import gc
import importlib.abc
import importlib.util
import json
import os
import resource
import sys
import time
import types
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from tests.mutants_apart import NOT_FOUND, at_once, ended, forked, tell
from tests.mutants_made import Fault
from tests.mutants_measured import ARGUMENTS, ROOT, Baseline, read_files

FIRST = 12  # so many tests that noticed a fault near by are tried before the quickest
ANEW = 150  # so many tests are tried where one that notices nothing says nothing yet


class Likely:
    """In which order the tests are tried on a fault: first who noticed it when it was tried before (`before`), then who
    noticed the faults of the lines around it."""

    def __init__(self, before: Mapping[Fault, str]) -> None:
        self._before = before
        self._noticed: list[tuple[int, str]] = []  # (line of a fault, who noticed it)

    def noticed(self, fault: Fault, by: str | None) -> None:
        if by:
            self._noticed.append((fault.line, by))

    def first(self, fault: Fault, names: Sequence[str]) -> list[str]:
        near = sorted(self._noticed, key=lambda noticed: abs(noticed[0] - fault.line))
        likely = list(dict.fromkeys([self._before.get(fault, ""), *(by for _, by in near)]))[: FIRST + 1]
        known = set(names)
        first = [name for name in likely if name in known]
        return [*first, *(name for name in names if name not in first)]


class Ready:
    """A process in which the tests are collected; each fault gets a copy of it. `anew`: the whole module is run once
    more in it, for a fault that works while it is imported. What others made of the module before stays as it was, so
    one that is noticed so is noticed, and one that is not says nothing yet. `warm`: the program has read its own files
    before."""

    def __init__(
        self, tests: Sequence[str], base: Baseline, likely: Likely, *, anew: bool = False, warm: bool = False
    ) -> None:
        self._tests, self._base, self._likely, self._anew, self._warm = tests, base, likely, anew, warm

    def each(self, faults: Sequence[Fault]) -> Iterator[tuple[Fault, str | None]]:
        """Each fault with the test that noticed it, "" where none did, None where its function was not found."""
        reading, writing = os.pipe()
        pid = forked(lambda: self._serve(faults, writing), None)
        os.close(writing)
        with os.fdopen(reading, "r", encoding="utf-8") as lines:
            for line in lines:
                number, by = json.loads(line)
                self._likely.noticed(faults[number], by)
                yield faults[number], by
        ended(pid)

    def _serve(self, faults: Sequence[Fault], writing: int) -> int:
        if self._warm:
            read_files()
        loop = _Loop(faults, self._base, self._likely, writing, self._anew)
        return int(pytest.main([*ARGUMENTS, *self._tests], plugins=[loop]))


class _Loop:
    """Takes the place of pytest's own loop over the tests."""

    def __init__(self, faults: Sequence[Fault], base: Baseline, likely: Likely, writing: int, anew: bool) -> None:
        self._faults, self._base, self._likely, self._writing, self._anew = faults, base, likely, writing, anew

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        standing = {} if self._anew else {file: _standing(file) for file in {fault.file for fault in self._faults}}
        gc.freeze()  # or every copy would touch all that is here, and so copy it
        works = [lambda fault=fault: self._tried(fault, session, items, standing) for fault in self._faults]
        limits = [self._base.allowed(self._names(fault)) for fault in self._faults]
        for number, code, by in at_once(works, limits):
            self._likely.noticed(self._faults[number], by)
            line = json.dumps([number, None if code == NOT_FOUND else by])
            os.write(self._writing, f"{line}\n".encode())
        return True

    def _tried(
        self, fault: Fault, session: pytest.Session, items: Mapping[str, pytest.Item], standing: Mapping[str, Standing]
    ) -> int:
        names = self._likely.first(fault, self._names(fault))
        put_in = _renew(fault) if self._anew else _swap(fault, standing[fault.file])
        return put_in or _alone(session, [items[name] for name in names if name in items], self._base)

    def _names(self, fault: Fault) -> list[str]:
        return self._base.every(fault)[:ANEW] if self._anew else self._base.tests(fault)


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
        tell("importing it")
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


def _alone(session: pytest.Session, items: Sequence[pytest.Item], base: Baseline) -> int:
    """`_run` with a folder for temporary files that no other fault's process writes to."""
    with TemporaryDirectory() as folder:
        session.config._tmp_path_factory._basetemp = Path(folder).resolve()  # type: ignore[attr-defined]
        return _run(session, items, base)


def _run(session: pytest.Session, items: Sequence[pytest.Item], base: Baseline) -> int:
    """The tests until one fails, whose name is written to the pipe of this process. A test that takes far longer than
    it does without the fault never ends."""
    for item, following in zip(items, [*items[1:], None], strict=True):
        most = resource.getrlimit(resource.RLIMIT_CPU)[1]
        until = round(time.process_time()) + base.allowed([item.nodeid])
        resource.setrlimit(resource.RLIMIT_CPU, (min(until, most), most))
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.testsfailed:
            tell(item.nodeid)
            return 1
    return 0


class Bare:
    """A process without the program; each fault gets a copy of it that imports the program with the fault in it."""

    def __init__(self, tests: Sequence[str], base: Baseline, likely: Likely) -> None:
        self._tests, self._base, self._likely = tests, base, likely

    def each(self, faults: Sequence[Fault]) -> Iterator[tuple[Fault, str]]:
        works = [lambda fault=fault: self._tried(fault) for fault in faults]
        limits = [20 + self._base.allowed(self._base.every(fault)) for fault in faults]
        for number, _, by in at_once(works, limits):
            self._likely.noticed(faults[number], by)
            yield faults[number], by

    def _tried(self, fault: Fault) -> int:
        names = self._likely.first(fault, self._base.every(fault))
        sys.meta_path.insert(0, _Finder(fault))
        order = _Order(names)
        with TemporaryDirectory() as folder:
            own = f"--basetemp={folder}/of-pytest"
            code = int(pytest.main([*ARGUMENTS, own, "-x", *self._tests], plugins=[order]))
        if code:
            tell(order.failed or "importing it")
        return code


class _Order:
    def __init__(self, names: Sequence[str]) -> None:
        self._at = {name: number for number, name in enumerate(names)}
        self.failed = ""

    @pytest.hookimpl(trylast=True)
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
