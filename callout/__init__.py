"""callout: the voice of the staging area for teams that shore up damaged buildings.

    import callout
    callout.read("insertion eleven feet sixty").meaning
    callout.plan("11 ft", 60).parts

What it offers stands in `__all__`; docs/library.md shows it at work. Nothing is loaded before it is used.
"""

from __future__ import annotations

import importlib as _importlib
import os as _os
from typing import TYPE_CHECKING

#: onnxruntime reports to its maker unless told not to, and reads this once, when it is loaded. Set here, at the door of
#: the package, it stands before any import of that library, and in every process that is started from this one.
_os.environ["ORT_DISABLE_TELEMETRY"] = "1"

__version__ = "0.1.0"

if TYPE_CHECKING:
    from callout.api import board, check, hear, plan, read, size_up
    from callout.dialogue.board import Board
    from callout.dialogue.records import Record
    from callout.errors import BadInput, CalloutError
    from callout.hearing.ears import Heard
    from callout.language.outcome import Resolution
    from callout.session.talk import Session
    from callout.shoring.build import Build
    from callout.shoring.sizeup import Sized
    from callout.values import Callout, Command, Length

#: name -> where it lives
_HOME = {
    "read": "callout.api", "hear": "callout.api", "plan": "callout.api", "check": "callout.api",
    "board": "callout.api", "Session": "callout.session.talk", "size_up": "callout.api",
    "Resolution": "callout.language.outcome", "Heard": "callout.hearing.ears", "Build": "callout.shoring.build",
    "Sized": "callout.shoring.sizeup",
    "Board": "callout.dialogue.board", "Record": "callout.dialogue.records",
    "Callout": "callout.values", "Command": "callout.values", "Length": "callout.values",
    "CalloutError": "callout.errors", "BadInput": "callout.errors",
}  # fmt: skip

__all__ = [
    "BadInput", "Board", "Build", "Callout", "CalloutError", "Command", "Heard", "Length", "Record", "Resolution",
    "Session", "Sized", "board", "check", "hear", "plan", "read", "size_up",
]  # fmt: skip


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'callout' has no attribute {name!r}")
    found = getattr(_importlib.import_module(_HOME[name]), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
