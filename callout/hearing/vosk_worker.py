"""The far side of the Vosk ear: the only module that imports vosk. Run as `python -m callout.hearing.vosk_worker`.

Messages, each answered once (see `helper`):
  ("model", key, folder, phrases)  load a model under a name; phrases is a JSON phrase list or None. -> True
  ("words", key, [word, ...])      -> those of them that the model does not know
  ("begin", key)                   start an utterance -> True
  ("feed", bytes)                  16-bit samples at 16 kHz -> True
  ("end", most)                    -> [(text, score, [(word, start, end), ...]), ...] best first, ends the utterance
"""

from __future__ import annotations

import json
import sys
from collections import OrderedDict
from types import ModuleType
from typing import Any

sys.modules["requests"] = ModuleType("requests")  # vosk fetches models with it; nothing is fetched here, nor opened

import vosk  # noqa: E402

from callout.hearing.helper import serve  # noqa: E402

KEPT = 3  # models held at once; each is about 25 MB


class _Worker:
    def __init__(self) -> None:
        self._models: OrderedDict[str, tuple[Any, str | None]] = OrderedDict()
        self._recognizer: Any = None

    def answer(self, message: tuple[Any, ...]) -> Any:
        return getattr(self, "_" + message[0])(*message[1:])

    def _model(self, key: str, folder: str, phrases: str | None) -> bool:
        if key not in self._models:
            base = next((model for model, _ in self._models.values() if folder == getattr(model, "folder", None)), None)
            model = base or vosk.Model(folder)
            model.folder = folder
            self._models[key] = (model, phrases)
            if len(self._models) > KEPT:
                self._models.popitem(last=False)
        return True

    def _words(self, key: str, words: list[str]) -> list[str]:
        return [word for word in words if self._models[key][0].vosk_model_find_word(word) < 0]

    def _begin(self, key: str) -> bool:
        model, phrases = self._models[key]
        self._models.move_to_end(key)
        # A fresh recognizer each time: a grammar must not be changed in mid-utterance, and a reset leaks old audio.
        self._recognizer = vosk.KaldiRecognizer(model, 16_000, *([] if phrases is None else [phrases]))
        self._recognizer.SetMaxAlternatives(8)
        self._recognizer.SetWords(True)
        self._pieces: list[list[Any]] = []
        return True

    def _feed(self, pcm: bytes) -> bool:
        if self._recognizer.AcceptWaveform(pcm):  # a foreign model's own end of speech: join what comes after
            self._pieces.append(json.loads(self._recognizer.Result())["alternatives"])
        return True

    def _end(self, most: int) -> list[tuple[str, float, list[tuple[str, float, float]]]]:
        last = json.loads(self._recognizer.FinalResult())["alternatives"]
        self._recognizer = None
        pieces = [piece for piece in (*self._pieces, last) if piece]
        joined: list[tuple[str, float, list[tuple[str, float, float]]]] = [("", 0.0, [])]
        for piece in pieces:
            joined = sorted(
                (
                    (f"{text} {way['text']}".strip(), score + way["confidence"], times + _times(way))
                    for text, score, times in joined
                    for way in piece
                ),
                key=lambda way: -way[1],
            )[:most]
        return joined


def _times(way: dict[str, Any]) -> list[tuple[str, float, float]]:
    return [(word["word"], word["start"], word["end"]) for word in way.get("result", [])]


if __name__ == "__main__":
    vosk.SetLogLevel(-1)
    serve(_Worker().answer)
