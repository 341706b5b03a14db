"""What is shown: a plain console of lines, or a screen; and the keys that gloves can press."""

from callout.console.output import Console, JsonConsole, PlainConsole

__all__ = ["Console", "JsonConsole", "PlainConsole"]
