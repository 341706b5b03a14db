"""The one exception a user can meet: a broken set-up or a bad input, with what to do next.

What a person said is never an exception: it is a result (see `callout.language.outcome`).
"""


class CalloutError(Exception):
    """A set-up that cannot work. The message is one line and says what to do next.

    `exit_code` is 1 for a broken set-up, 2 for an input that cannot be used.
    """

    exit_code = 1


class BadInput(CalloutError):
    """A file, a stock or an option that cannot be used; the message names the fix."""

    exit_code = 2
