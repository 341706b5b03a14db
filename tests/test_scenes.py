"""Whole scenes as scripts that anybody can read: who says what, what must be said, written and released.

Each file of `tests/scenes/` is one scene. Its lines, in order:

    # ...                 what the scene is about
    settings: two sources, voice          (first of all, if at all; "team": with a folder for a team's words)
    stock: four six foot struts ...       a count before the scene: "stock: 2 ten foot strut"
    measurer: words                       somebody says it (typed); "logistics:", or any callsign in the words
    key logistics: ready                  somebody presses a key
    voice: through                        the voice has said all; "voice: figures", "voice: cut" of what it said last
    wait: 25                              so many seconds go by
    restart:                              the program is started again on what was written
    > words                               said in answer, as part of a sentence
    >! words                              not said in answer
    = released, picked                    these events were written in answer
    =! released                           this one was not
    released: 11 ft @ 60, 9 ft @ 45       the builds released since the start, in order
    on hand: 2 ten foot strut             what lies there now
    taught: ready = fetch it; ...         what stands in the team's folder
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from callout.dialogue.events import Effect, Input, Key, Opened, Resumed, Say, Spoken, Teach, Tick, Uttered
from callout.dialogue.machine import restore, start, step
from callout.dialogue.records import Record, Role
from callout.dialogue.settings import load_settings
from callout.dialogue.state import context, on_hand
from callout.language import teaching
from callout.language.resolve import resolve_text
from callout.language.team import team_phrases
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import Stock, load_stock
from callout.values import Callout
from tests.team_words import forget

SCENES = sorted((Path(__file__).parent / "scenes").glob("*.txt"))


@dataclass
class Scene:
    """One scene under way."""

    with_team: Callable[[], None]
    settings: dict[str, object] = field(default_factory=dict)
    stock: Stock = field(default_factory=load_stock)
    records: list[Record] = field(default_factory=list)
    answer: list[Record] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    spoken: list[str] = field(default_factory=list)  # asked of the voice and not through
    time: float = 0.0
    begun: bool = False

    def begin(self) -> None:
        if not self.begun:
            self.begun = True
            self.planner = ShorePlanner()
            self.now = start(self.stock, self.planner, load_settings(seconds_a_word=0.0, **self.settings))
            self.put(Opened(0.0))
            self.spoken.clear()

    def put(self, event: Input) -> None:
        self.now, effects = step(self.now, event)
        self._took(effects)

    def _took(self, effects: tuple[Effect, ...]) -> None:
        written = [effect for effect in effects if isinstance(effect, Record)]
        self.records += written
        self.answer += written
        for effect in effects:
            if isinstance(effect, Teach):
                (teaching.take_back if effect.undo else teaching.keep)(effect.command, effect.line)
        texts = [effect.text for effect in effects if isinstance(effect, Say)]
        self.said += texts
        self.spoken += texts

    def line(self, line: str) -> None:
        """One line of the script."""
        head, _, words = line.partition(": ")
        words = words.strip()
        if line.startswith((">", "=")):
            self._check(line)
        elif head == "settings":
            one = "two sources" not in words
            self.settings = {"one_source": one, "voiced": "voice" in words}
            if "team" in words:
                self.with_team()
        elif head == "stock":
            count, _, name = words.partition(" ")
            self.stock = self.stock.with_quantities({name: int(count)})
        elif head == "released":
            self._released(words)
        elif head == "taught":
            found = [f"{command} = {line}" for command, lines in team_phrases().items() for line in lines]
            assert found == [one for one in words.split("; ") if one != "nothing"], found
        elif head == "on hand":
            count, _, name = words.partition(" ")
            assert on_hand(self.now)[name] == int(count), f"{on_hand(self.now)[name]} {name}"
        else:
            self._act(head.rstrip(":"), words)

    def _act(self, who: str, words: str) -> None:
        self.begin()
        self.answer, self.said = [], []
        self.time += 1.0
        if who in ("measurer", "logistics"):
            role: Role = "measurer" if who == "measurer" else "logistics"
            result = resolve_text(words, context(self.now, role))
            names_side = self.now.settings.one_source
            self.put(Uttered(result, words, role, self.time, True, names_side=names_side))
        elif who.startswith("key "):
            self.put(Key(words, "logistics" if who.endswith("logistics") else "measurer", self.time))  # type: ignore[arg-type]
        elif who == "voice":
            texts = self.spoken if words == "through" else self.spoken[-1:]
            for text in list(texts):
                self.put(Spoken(text, self.time, words))  # type: ignore[arg-type]
            if words == "through":
                self.spoken.clear()
        elif who == "wait":
            for _ in range(int(words)):
                self.time += 1.0
                self.put(Tick(self.time))
        elif who == "restart":
            lines = [Record.model_validate_json(record.model_dump_json()) for record in self.records]
            again = restore(lines, self.stock, self.planner, self.now.settings)
            assert again == self.now
            self.now = again
            self.put(Resumed(self.time))
        else:
            raise AssertionError(f"no such line: {who!r}")

    def _check(self, line: str) -> None:
        mark, _, wanted = line.partition(" ")
        if mark == ">":
            assert any(wanted in text for text in self.said), f"said: {self.said}"
        elif mark == ">!":
            assert not any(wanted in text for text in self.said), f"said: {self.said}"
        else:
            events = [record.event for record in self.answer]
            for event in wanted.split(", "):
                assert (event in events) == (mark == "="), f"written: {events}"

    def _released(self, words: str) -> None:
        found = []
        for record in self.records:
            if record.event == "released":
                called = Callout.model_validate(record.meaning)
                found.append(f"{called.insertion} @ {called.angle_deg}" if called.angle_deg else f"{called.insertion}")
        assert found == [one for one in words.split(", ") if one != "nothing"], found


def test_there_are_twenty_scenes() -> None:
    assert len(SCENES) >= 20


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_scene(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CALLOUT_TEAM", raising=False)
    monkeypatch.setenv("CALLOUT_CONFIG", str(tmp_path / "settings" / "callout.toml"))
    teams = []

    def with_team() -> None:
        teams.append(tmp_path)
        monkeypatch.setenv("CALLOUT_TEAM", str(tmp_path))
        forget()

    try:
        _played(Scene(with_team), path)
    finally:
        monkeypatch.undo()
        if teams or (tmp_path / "settings").exists():
            forget()


def _played(scene: Scene, path: Path) -> None:
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        if line.strip() and not line.startswith("#"):
            try:
                scene.line(line.strip())
            except AssertionError as failed:
                raise AssertionError(f"{path.name}, line {number}: {line}\n{failed}") from failed
