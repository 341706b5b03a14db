"""A day's kept audio through other ears: what is the same, and what is not."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from callout.dialogue.events import Record
from callout.journal.audio import AudioStore, audio_file, audio_folder
from callout.journal.store import Journal
from callout.scoring.replay import AUDIO, replay
from callout.values import Command, meaning_json
from tests.scripted_ears import ELEVEN, STEP, TWELVE, listen, read


@pytest.fixture
def day(tmp_path: Path) -> Path:
    """Six utterances with kept audio: what was heard then, and the number of what the scripted ears hear now."""
    path = tmp_path / "day.journal"
    eleven, twelve = meaning_json(ELEVEN), meaning_json(TWELVE)
    then = [(eleven, 1), (eleven, 2), (twelve, 4), (None, 7), (None, 0), (eleven, 9)]
    with Journal.open(path) as journal:
        store = AudioStore.beside(path, print)
        for meaning, number in then:
            name = store.keep(np.full(16000 + 160 * number, number * STEP, np.float32))
            journal.append(Record(event="heard", speaker="measurer", text="then", meaning=meaning, data={AUDIO: name}))
        journal.append(Record(event="said", speaker="callout", text="one one feet"))
        journal.append(Record(event="heard", speaker="measurer", text="no audio kept", meaning=eleven))
        last = store.path(name or "")
    last.unlink()
    return path


def test_what_would_now_be_heard_differently(day: Path) -> None:
    folder = audio_folder(day)
    with Journal.open(day, writer=False) as journal:
        found = list(replay(journal.records(), lambda name: audio_file(folder, name), read, listen))
    assert [again.change for again in found] == ["same", "other", "lost", "gained", "same", "unreadable"]
    assert found[3].now_meaning == meaning_json(Command(command="affirm"))
    assert found[1].now_text == "insertion twelve feet sixty"
    assert found[5].error
    json.dumps([again.to_json() for again in found])
