"""How helper processes are started, and how they end: none runs a file of the current folder, none outlives callout."""

from __future__ import annotations

import multiprocessing
import multiprocessing.util
import os
import sys
import threading
from collections.abc import Callable
from multiprocessing.context import SpawnContext
from pathlib import Path

_HERE = str(Path(__file__).resolve().parents[1])

#: What a helper runs first. It starts isolated (-I), so that neither the current folder nor PYTHONPATH is searched, and
#: then searches what this process does: a user's own folder of packages is not known to an isolated Python otherwise.
_BEGIN = (
    "import sys; sys.path[:] = sys.argv[1].split(sys.argv[2]); del sys.argv[1:3]; "
    "import runpy; runpy.run_module(sys.argv.pop(1), run_name='__main__', alter_sys=True)"
)


def module_command(module: str, *arguments: str) -> list[str]:
    """The command line that runs `module` of ours in a process of its own, whatever lies in the current folder."""
    path = os.pathsep.join(search_path())
    return [sys.executable, *_flags(), "-c", _BEGIN, path, os.pathsep, module, *arguments]


def search_path() -> list[str]:
    """Where this process looks for modules, without the current folder (if callout lies in it: at the end)."""
    here = os.path.realpath(os.getcwd()) if _has_folder() else ""
    kept = [folder for folder in sys.path if os.path.isabs(folder) and os.path.realpath(folder) != here]
    return kept if _HERE in kept else [*kept, _HERE]


def _has_folder() -> bool:
    try:
        os.getcwd()
    except OSError:  # it was removed
        return False
    return True


def _flags() -> list[str]:
    return ["-I", *(["-B"] if sys.dont_write_bytecode else []), *(["-X", "utf8"] if sys.flags.utf8_mode else [])]


def spawning() -> SpawnContext:
    """The standard library's way to spread work over processes, with processes that start isolated, too.

    It starts them as `python -c ...`, which looks into the current folder first; Python 3.10 has no other way to forbid
    that than the flag for all. What they search afterwards is handed over by the library itself.
    """
    given = multiprocessing.util._args_from_interpreter_flags  # type: ignore[attr-defined]
    if not getattr(given, "isolated", False):

        def isolated() -> list[str]:
            return [*given(), "-I"]

        isolated.isolated = True  # type: ignore[attr-defined]
        multiprocessing.util._args_from_interpreter_flags = isolated  # type: ignore[attr-defined]
    return multiprocessing.get_context("spawn")


def end_with_parent() -> None:
    """In a process of the standard library's: end at once when whoever started it has ended, however that came."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        _end_after(parent.join)


def end_with_input() -> None:
    """In a process whose standard input is a pipe that nobody writes to: end when its other end is gone."""
    _end_after(lambda: os.read(0, 1))  # not through sys.stdin, whose lock Python wants at its own end


def _end_after(wait: Callable[[], object]) -> None:
    def watch() -> None:
        wait()
        os._exit(1)

    threading.Thread(target=watch, name="ends with its parent", daemon=True).start()
