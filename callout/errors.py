"""The one exception a user can meet: a broken set-up or a bad input, with what to do next.

What a person said is never an exception: it is a result (see `callout.language.outcome`).
"""

from collections.abc import Sequence


class CalloutError(Exception):
    """A set-up that cannot work. The message is one line and says what to do next.

    `exit_code` is 1 for a broken set-up, 2 for an input that cannot be used.

    Examples:
        >>> import callout
        >>> try:
        ...     callout.plan("eleventy")
        ... except callout.CalloutError as wrong:
        ...     print(wrong.exit_code)
        2
    """

    exit_code = 1


class BadInput(CalloutError):
    """A file, a stock or an option that cannot be used; the message names the fix.

    Examples:
        >>> import callout
        >>> try:
        ...     callout.read("affirm", state="asleep")
        ... except callout.BadInput as wrong:
        ...     print(str(wrong).partition(";")[0])
        state asleep: not known
    """

    exit_code = 2


class Mistakes(BadInput):
    """Several things that are wrong with one file, a line each."""

    def __init__(self, lines: Sequence[str]) -> None:
        super().__init__("\n".join(lines))
        self.lines = tuple(lines)
