"""The front door: what `import callout` offers is documented, shown to work, and enough for others to build on."""

from __future__ import annotations

import ast
import doctest
import inspect
import io
import re
import shutil
import subprocess
import sys
import threading
from pathlib import Path

import numpy as np
import pytest
import soundfile

import callout
from callout import api
from callout.files import data_folder

ROOT = Path(__file__).resolve().parent.parent
GUIDE = ROOT / "docs" / "library.md"
DEMO = data_folder("audio_fixtures") / "demo"


def test_what_is_offered_is_there_and_documented() -> None:
    assert len(callout.__all__) <= 20
    assert set(callout._HOME) == set(callout.__all__) <= set(dir(callout))
    page = GUIDE.read_text("utf-8")
    for name in callout.__all__:
        assert f"`{name}" in page, f"{name} is not in docs/library.md"
        if name != "Resolution":
            assert inspect.getdoc(getattr(callout, name)), f"{name} has no docstring"
    with pytest.raises(AttributeError, match="no attribute 'approve'"):
        callout.approve  # noqa: B018


def test_no_room_takes_the_name_of_a_function() -> None:
    """A module `callout.board` would take the place of the function, once somebody imports it."""
    rooms = {path.stem for path in (ROOT / "callout").iterdir()}
    assert not rooms & set(callout.__all__)


def test_nothing_is_loaded_before_it_is_used() -> None:
    code = "import sys, callout; dir(callout); print([name for name in sys.modules if name.startswith('callout.')])"
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "[]"
    heavy = "('onnxruntime', 'vosk', 'scipy', 'textual', 'click', 'pyttsx3')"
    code = f"import sys, callout; callout.read('affirm'); print([m for m in {heavy} if m in sys.modules])"
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "[]"


@pytest.mark.audio
@pytest.mark.parametrize("name", [*(name for name in callout.__all__ if name != "Resolution"), "length"])
def test_the_examples_in_the_docstrings_are_true(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    offered = getattr(callout, name, None) or getattr(api, name)
    tests = [test for test in doctest.DocTestFinder(recurse=False).find(offered, name) if test.examples]
    assert tests, f"{name} has no example"
    failed: list[str] = []
    for test in tests:
        doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(test, out=failed.append)
    assert not failed, "".join(failed)


@pytest.mark.audio
def test_samples_of_any_shape_are_heard_like_their_file() -> None:
    samples, rate = soundfile.read(DEMO / "whole_clean.flac", dtype="int16")
    stereo = np.stack([samples, samples], axis=1)
    for given in (DEMO / "whole_clean.flac", samples, stereo, samples.astype(np.float64) / 32768):
        heard = api.hear(given, rate=rate)
        assert heard.resolution.meaning == callout.read("insertion eleven feet sixty").meaning
    with pytest.raises(callout.BadInput, match="no such file"):
        api.hear("nothing.wav")
    with pytest.raises(callout.BadInput, match="state nowhere: not known"):
        api.hear(samples, state="nowhere")


@pytest.mark.parametrize(
    ("given", "says"),
    [({"insertion": "eleventy"}, "eleventy"), ({"insertion": "11 ft", "kind": "moat"}, "kind"),
     ({"insertion": "11 ft", "shine": 3}, "shine"), ({"insertion": "11 ft", "span": "wide"}, "wide"),
     ({"insertion": "11 ft", "stock": "missing.toml"}, "missing.toml")],
)  # fmt: skip
def test_a_figure_that_cannot_be_used_is_one_line(given: dict[str, object], says: str) -> None:
    with pytest.raises(callout.BadInput, match=says) as wrong:
        callout.plan(**given)  # type: ignore[arg-type]
    assert "\n" not in str(wrong.value)


def test_a_second_session_on_a_journal_only_reads(tmp_path: Path) -> None:
    path = tmp_path / "day.journal"
    told: list[callout.Record] = []
    with callout.Session(path) as first:
        code = (
            "import callout, sys\nwith callout.Session(sys.argv[1]) as second:\n"
            "    print(second.writes)\n    print([r.event for r in second.text('insertion nine feet sixty')])\n"
            "    print(second.board().open[0].called)\n"
        )
        stop = first.subscribe(told.append)
        first.text("insertion eleven feet sixty")
        first.text("affirm insertion")
        stop()
        first.key("ready")
        done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["False", "['heard', 'refused']", "11 ft @ 60°"]
    assert [record.event for record in told][:3] == ["heard", "readback", "heard"]
    assert "picked" not in [record.event for record in told]
    assert [record.seq for record in api.records(path)] == list(range(1, len(list(api.records(path))) + 1))
    assert callout.board(path).open[0].called == "11 ft @ 60°"


def test_a_session_listens_to_the_end_of_its_sources(monkeypatch: pytest.MonkeyPatch) -> None:
    """What `callout listen` does: one keyboard, and who speaks may be named."""
    lines = "insertion eleven feet sixty\naffirm insertion\nlogistics: ready\n"
    monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
    with callout.Session() as talk:
        talk.listen("typed")
        assert [(record.event, record.speaker) for record in talk.records if record.event == "picked"] == [
            ("picked", "logistics")
        ]
        with pytest.raises(callout.BadInput, match="no such recording"):
            talk.listen("nothing.flac")


@pytest.mark.audio
def test_a_session_listens_to_a_recording() -> None:
    with callout.Session() as talk:
        talk.listen(str(DEMO / "whole_clean.flac"))
        assert [record.event for record in talk.records][:3] == ["said", "heard", "readback"]


def test_a_session_is_fed_from_several_threads() -> None:
    talk = callout.Session()
    threads = [threading.Thread(target=lambda: [talk.text("say again") for _ in range(20)]) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    numbers = [record.seq for record in talk.records]
    assert numbers == list(range(1, len(numbers) + 1))
    assert len(numbers) > 80
    talk.close()


def example(name: str) -> str:
    found = re.search(rf"<!-- example: {name} -->\n```python\n(.*?)```", GUIDE.read_text("utf-8"), re.S)
    assert found is not None
    return found[1]


def test_the_examples_are_short() -> None:
    for name in ("gateway", "board"):
        lines = [line for line in example(name).splitlines() if line.strip()]
        assert len(lines) <= 20
        ast.parse(example(name))


@pytest.mark.audio
def test_the_gateway_and_the_board_work(tmp_path: Path) -> None:
    for name in ("gateway", "board"):
        (tmp_path / f"{name}.py").write_text(example(name))
    incoming = tmp_path / "in"
    incoming.mkdir()
    shutil.copy(DEMO / "whole_clean.flac", incoming / "1.flac")
    (incoming / "2.flac").write_text("no sound")
    gateway = subprocess.Popen(
        [sys.executable, "gateway.py", "in", "out", "day.journal"], cwd=tmp_path, stdout=subprocess.PIPE, text=True
    )
    assert gateway.stdout is not None
    said = []
    for line in gateway.stdout:
        said.append(line)
        if line.startswith("nothing was heard"):
            break
    board = subprocess.run(
        [sys.executable, "board.py", "day.journal", "--once"], cwd=tmp_path, capture_output=True, text=True, timeout=60
    )
    (incoming / "end").touch()
    assert gateway.wait(60) == 0
    assert any(line.startswith("readback ") and "one one feet, eleven feet" in line for line in said)
    waits = [line for line in board.stdout.splitlines() if line.startswith("WAITS for measurer: ")]
    assert len(waits) == 1, board.stderr
    assert "one one feet, eleven feet" in waits[0]
    spoken = sorted(path.name for path in (tmp_path / "out").glob("*.wav"))
    assert any("one-one-feet" in name for name in spoken)
