"""What people say, said by a voice and heard: `python -m tests.people_heard [VOICE]` prints how much is taken as meant.

VOICE is one of `audio_fixtures.voices` ("espeak:en-us" where none is named; "hibari:heart", where that is installed).
`-v` shows what is not taken.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from functools import cache

import numpy as np

from audio_fixtures.voices import RATE, speak
from callout.hearing.audio import Samples
from callout.hearing.ears import Ears
from callout.language.outcome import Ambiguous, Near, Resolution, Understood
from tests.people_other_hands import Verdict, judged, meant_for_us, rows, share
from tests.people_talk import Phrase, context, kept_apart
from tests.test_language_phrases import in_short

VOICE = "espeak:en-us"


@cache
def said(words: str, voice: str = VOICE) -> Samples:
    """The words in a clear voice, half a second after the key and before its end."""
    return np.pad(speak(voice, words), RATE // 2).astype(np.float32)


def heard_phrases(ears: Ears, voice: str = VOICE) -> Iterator[tuple[Phrase, Resolution]]:
    """Every phrase kept apart with what was heard."""
    for phrase in kept_apart():
        yield phrase, ears.hear(said(phrase.said, voice), context(phrase.state)).resolution


def _verdict(phrase: Phrase, result: Resolution) -> Verdict:
    if phrase.taken(result):
        return "right"
    if isinstance(result, Understood):
        return "wrong"
    return "asked" if isinstance(result, (Ambiguous, Near)) else "not understood"


def _print(title: str, found: list[tuple[Verdict, str, str, str]], show: bool) -> None:
    """`found`: the verdict, its state, what was said, what was heard."""
    for state in sorted({row[1] for row in found}):
        print(f"  {state:<10}", dict(Counter(verdict for verdict, where, _, _ in found if where == state)))
    every = Counter(verdict for verdict, *_ in found)
    right, whole = every["right"], meant_for_us(every)
    print(f"{title}: {right} of {whole} taken as meant ({100 * share(every):.0f} %), {dict(every)}\n")
    for verdict, where, words, heard in found if show else ():
        if verdict not in ("right", "quiet"):
            print(f"  {verdict}: {where}, {words!r}: {heard}")


def main() -> None:
    voice = next((argument for argument in sys.argv[1:] if not argument.startswith("-")), VOICE)
    show = "-v" in sys.argv
    ears = Ears()
    try:
        ears.ready()
        heard = [(_verdict(phrase, result), phrase.state, phrase.said, in_short(result))
                 for phrase, result in heard_phrases(ears, voice)]  # fmt: skip
        _print("kept apart", heard, show)
        for name in ("second", "third"):
            heard = []
            for state, meant, words in rows(name):
                result = ears.hear(said(words, voice), context(state)).resolution
                heard.append((judged(meant, result), state, words, in_short(result)))
            _print(name, heard, show)
    finally:
        ears.close()


if __name__ == "__main__":
    main()
