"""Lengths, and the meanings made of them. Imports nothing of ours."""

from callout.values.length import Length
from callout.values.meaning import Callout, Command, Meaning, meaning_from_json, meaning_json

__all__ = ["Callout", "Command", "Length", "Meaning", "meaning_from_json", "meaning_json"]
