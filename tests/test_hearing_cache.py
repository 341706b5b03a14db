"""The cache of compiled grammars: what comes out is what went in, and no file in it can run code."""

from __future__ import annotations

import pickle
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from callout.hearing import states
from callout.hearing.graph_cache import cached, fingerprint
from callout.language.context import Context


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CALLOUT_CACHE", str(tmp_path))
    return tmp_path


def never() -> Any:
    raise AssertionError("made again, though it was in the cache")


def test_a_graph_comes_out_of_the_cache_as_it_went_in(cache: Path) -> None:
    made = states._graphs(Context(state="halted"))
    cached("state-halted", lambda: made, states._pack_graphs, states._unpack_graphs)
    words, graph = cached("state-halted", never, states._pack_graphs, states._unpack_graphs)
    assert words == made[0]
    for field in fields(graph):
        before, after = getattr(made[1], field.name), getattr(graph, field.name)
        if isinstance(before, np.ndarray):
            assert before.dtype == after.dtype
            assert np.array_equal(before, after)
        else:
            assert before == after


class _Runs:
    def __init__(self, place: Path) -> None:
        self.place = place

    def __reduce__(self) -> tuple[Any, ...]:
        return (Path.touch, (self.place,))


def test_a_file_of_the_cache_that_would_run_code_does_not(cache: Path, tmp_path: Path) -> None:
    """Both ways in: a bare pickle under the name of the file, and an array of objects inside the archive."""
    trap = tmp_path / "ran"
    hostile = cache / f"words-{fingerprint()}.npz"
    hostile.write_bytes(pickle.dumps(_Runs(trap)))
    assert cached("words", lambda: {"a": 1}, dict, dict) == {"a": 1}
    np.savez(hostile, plain=np.array([_Runs(trap)], dtype=object))
    assert cached("words", lambda: {"a": 2}, dict, dict) == {"a": 2}
    assert not trap.exists()
    assert cached("words", never, dict, dict) == {"a": 2}  # and what was made now took its place
