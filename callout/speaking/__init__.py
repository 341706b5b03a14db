"""The voice: words in, sound out. Speech runs in a process of its own (see `process`)."""

from callout.speaking.habits import Habits
from callout.speaking.opening import open_voice
from callout.speaking.pacing import NotSpeakable, Pace, check_words
from callout.speaking.process import SpeechProcess, open_process
from callout.speaking.render import Rendered
from callout.speaking.voice import Voice

__all__ = [
    "Habits", "NotSpeakable", "Pace", "Rendered", "SpeechProcess", "Voice", "check_words", "open_process", "open_voice",
]  # fmt: skip
