"""`callout check`: what is missing is named with what mends it, and nothing that it looks at is changed."""

import functools
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from callout.errors import CalloutError
from callout.hearing.ears import WEIGHTS, Ears
from callout.hearing.evidence import Evidence
from callout.journal import Journal
from callout.session import readiness as check


def broken() -> str:
    raise CalloutError("it is not there")


def crashing() -> str:
    raise RuntimeError("of all things\nthis")


def checked(probes: list[tuple[object, ...]], monkeypatch: pytest.MonkeyPatch) -> check.Report:
    monkeypatch.setattr(check, "PROBES", tuple(probes))
    return check.check()


def test_what_is_needed_and_missing_is_not_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    report = checked([("voice", True, broken, "install it"), ("disk", True, lambda: "room", "buy")], monkeypatch)
    assert not report.ready
    assert [(f.name, f.ready, f.mend) for f in report.findings] == [("voice", False, "install it"), ("disk", True, "")]


def test_what_is_only_welcome_may_be_missing_and_a_crash_is_a_finding(monkeypatch: pytest.MonkeyPatch) -> None:
    report = checked([("sound in", False, crashing, "plug in")], monkeypatch)
    assert report.ready
    assert report.findings[0].detail == "of all things"


def test_the_usual_journal_is_looked_at_and_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "state" / "day.journal"
    monkeypatch.setenv("CALLOUT_JOURNAL", str(path))
    assert check._journal() == f"a new one will be made: {path}"
    assert not path.parent.exists()
    Journal.open(path).close()
    assert check._journal().startswith("0 lines, the chain is whole")
    connection = sqlite3.connect(path)
    connection.execute("UPDATE fact SET value = 'x' WHERE key = 'head_hash'")
    connection.commit()
    connection.close()
    with pytest.raises(CalloutError, match="the end of the chain was changed"):
        check._journal()
    path.write_text("shopping list")
    with pytest.raises(CalloutError, match="is not a journal"):
        check._journal()
    assert path.read_text() == "shopping list"


def recognizer_with(monkeypatch: pytest.MonkeyPatch, changed: object) -> str:
    monkeypatch.setattr("callout.hearing.ears.Ears", changed)
    return check._recognizer()


@pytest.mark.audio
def test_an_ear_that_is_dead_or_hears_amiss_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(CalloutError, match=r"the second ear \(Vosk\) hears nothing; the other one works alone"):
        recognizer_with(monkeypatch, functools.partial(Ears, second=False))

    class FirstIsDead(Ears):
        def evidence(self, *given: object, **more: object) -> Evidence:
            return replace(super().evidence(*given, **more), encoder=())  # type: ignore[arg-type]

    with pytest.raises(CalloutError, match="the encoder ear hears nothing"):
        recognizer_with(monkeypatch, FirstIsDead)
    monkeypatch.setattr(check, "RECORDING", "affirm_clean.flac")
    with pytest.raises(CalloutError, match=f"hears 'affirm' where '{check.SAID}' is said"):
        recognizer_with(monkeypatch, Ears)


@pytest.mark.audio
def test_a_third_opinion_that_is_missing_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "the third opinion answers" in check._recognizer()
    for each in WEIGHTS.iterdir():
        if each.name != "opinion":
            (tmp_path / each.name).symlink_to(each)
    told = recognizer_with(monkeypatch, functools.partial(Ears, tmp_path))
    assert "without a third opinion" in told


def set_to(folder: Path, monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    (folder / "callout.toml").write_text(text)
    monkeypatch.setenv("CALLOUT_CONFIG", str(folder / "callout.toml"))
    monkeypatch.delenv("CALLOUT_JOURNAL", raising=False)
    monkeypatch.delenv("CALLOUT_STOCK", raising=False)


def test_it_tries_the_stock_that_a_conversation_would_use(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    set_to(tmp_path, monkeypatch, 'stock = "yard.toml"\n')
    probes = [probe for probe in check.PROBES if probe[0] == "stock"]
    report = checked(probes, monkeypatch)
    assert not report.ready
    found = report.findings[0]
    assert "yard.toml: no such stock file" in found.detail
    assert str(tmp_path / "callout.toml") in found.detail
    assert "force-reinstall" not in found.mend
    assert f"callout stock {tmp_path / 'yard.toml'}" in found.mend
    (tmp_path / "yard.toml").write_text((Path(check.__file__).parents[1] / "shoring/stocks/demo.toml").read_text())
    assert checked(probes, monkeypatch).findings[0].detail.endswith(f"lines: {tmp_path / 'yard.toml'}")
    monkeypatch.setenv("CALLOUT_STOCK", str(tmp_path / "none.toml"))
    assert "set in CALLOUT_STOCK" in checked(probes, monkeypatch).findings[0].detail
    monkeypatch.delenv("CALLOUT_STOCK")
    set_to(tmp_path, monkeypatch, "")
    assert "invented stock of the package" in checked(probes, monkeypatch).findings[0].detail


def test_it_looks_at_the_journal_that_is_set(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    set_to(tmp_path, monkeypatch, 'journal = "day.journal"\n')
    assert check._journal() == f"a new one will be made: {tmp_path / 'day.journal'}"
    (tmp_path / "day.journal").write_text("shopping list")
    with pytest.raises(CalloutError, match=r"day\.journal.*is not a journal"):
        check._journal()
