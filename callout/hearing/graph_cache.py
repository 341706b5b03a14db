"""A cache of compiled grammars in the user's cache folder.

The name of each file holds a fingerprint of the grammar and of the code that made it, so a changed word never meets
an old graph. A cache that cannot be read or written is no error: the thing is made again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import IO, Any, TypeVar

import numpy as np
import platformdirs

from callout.files import data_folder
from callout.language.team import team_files

T = TypeVar("T")
#: Arrays and values of JSON, by name.
Packed = dict[str, Any]
_PLAIN = "plain"


def cache_folder() -> Path:
    """`CALLOUT_CACHE`, or the place that the system has for such things."""
    named = os.environ.get("CALLOUT_CACHE")
    return Path(named) if named else platformdirs.user_cache_path("callout", appauthor=False)


@lru_cache(maxsize=1)
def fingerprint() -> str:
    """Changes with every byte of the grammar, of the language and of the graphs' code."""
    here = Path(__file__).parent
    files = [*data_folder("grammars").rglob("*"), *team_files()]
    files += [*(here.parent / "language").glob("*.py"), *here.glob("*graph*.py")]
    digest = hashlib.sha256()
    for file in sorted(files):
        if file.is_file():
            digest.update(file.name.encode() + b"\0" + file.read_bytes())
    return digest.hexdigest()[:16]


def cached(name: str, make: Callable[[], T], pack: Callable[[T], Packed], unpack: Callable[[Packed], T]) -> T:
    """The thing called `name`: from the cache, or made now and put there. `pack` turns it into arrays and plain JSON
    values, `unpack` back: a file of the cache holds no code that could run, whoever wrote it."""
    file = cache_folder() / f"{name}-{fingerprint()}.npz"
    with contextlib.suppress(Exception):
        return unpack(_read(file))
    thing = make()
    with contextlib.suppress(OSError):
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        for old in (*file.parent.glob(f"{name}-*.npz"), *file.parent.glob(f"{name}-*.pickle")):
            old.unlink(missing_ok=True)
        handle, part = tempfile.mkstemp(dir=file.parent)
        with os.fdopen(handle, "wb") as out:
            _write(out, pack(thing))
        os.replace(part, file)  # never half a file, whoever else is writing
    return thing


def _write(out: IO[bytes], packed: Packed) -> None:
    arrays = {key: value for key, value in packed.items() if isinstance(value, np.ndarray)}
    plain = json.dumps({key: value for key, value in packed.items() if key not in arrays}, separators=(",", ":"))
    arrays[_PLAIN] = np.frombuffer(plain.encode(), dtype=np.uint8)
    np.savez(out, **dict[str, Any](arrays))


def _read(file: Path) -> Packed:
    with np.load(file, allow_pickle=False) as stored:
        packed: Packed = {key: stored[key] for key in stored.files}
    return {**json.loads(packed.pop(_PLAIN).tobytes()), **packed}
