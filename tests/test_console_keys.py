"""One key for gloves: pressed once it is ready, held or twice it is say again."""

import io
import os
import pty
import time

import pytest

from callout.console.keys import HOLD, LET_GO_OF_TALK, LONGEST_TALK, Presses, TalkKey, names, read_keys


def meant(*times, end=10.0):
    """What presses at these times (seconds) mean, asked every 50 ms as the program does."""
    presses, told, left = Presses(), [], list(times)
    clock = 0.0
    while clock < end:
        while left and left[0] <= clock:
            told.append(presses.press(left.pop(0)))
        told.append(presses.due(clock))
        clock += 0.05
    return [name for name in told if name is not None]


def held(begin, seconds, delay=0.5, every=0.033):
    """The presses that a terminal reports for a held key: one, a delay, then many."""
    times, at = [begin], begin + delay
    while at < begin + seconds:
        times.append(at)
        at += every
    return times


@pytest.mark.parametrize(
    ("presses", "meaning"),
    [
        ([1.0], ["ready"]),
        ([1.0, 3.0], ["ready", "ready"]),
        ([1.0, 1.3], ["say_again"]),
        (held(1.0, 2.0), ["say_again"]),
        (held(1.0, 2.0, delay=0.25), ["say_again"]),
        (held(1.0, 2.0, delay=0.66), ["say_again"]),
        ([*held(1.0, 2.0), 4.0], ["say_again", "ready"]),
        ([1.0, 2.0, 2.2, 4.0], ["ready", "say_again", "ready"]),
        ([], []),
    ],
)
def test_what_a_press_means(presses, meaning):
    assert meant(*presses) == meaning


@pytest.mark.parametrize(
    ("gap", "word"), [(0.05, "short\r"), (0.25, "short\r"), (0.4, "short\r"), (0.65, "short\r"), (0.1, "sssshort  \r")]
)
def test_who_types_beside_the_line_books_nothing(gap, word):
    """The line was closed, and "short" and Enter were typed: the row is told, and means neither ready nor affirm."""
    presses, told, at = Presses(), [], 1.0
    for letter in word:
        told += names(letter, presses, at)
        for step in range(1, 6):
            told.append(presses.due(at + gap * step / 5 - 0.01))
        at += gap
    told += [presses.due(at + n / 10) for n in range(40)]
    found = [name for name in told if name not in (None, "pressed")]
    assert found == (["say_again", "row"] if word.startswith("ss") else ["row"])
    assert names("x", presses, at + 5) == ["pressed"], "afterwards a key is a key"
    assert presses.due(at + 6) == "ready"


@pytest.mark.parametrize("chunk", ["ab", "asdf", "a d", "  x"])
def test_a_fist_on_the_keyboard_books_nothing(chunk):
    presses = Presses()
    assert names(chunk, presses, 1.0)[-1] == "row"
    told = []
    for n in range(40):  # held, the system repeats the last of them
        told += [*names(chunk[-1], presses, 1.5 + n * 0.03), presses.due(1.5 + n * 0.03)]
    told += [presses.due(3.0 + n * 0.1) for n in range(30)]
    assert set(told) == {None}


def test_ready_comes_soon_enough():
    presses = Presses()
    presses.press(1.0)
    assert presses.due(1.0 + HOLD - 0.01) is None
    assert presses.due(1.0 + HOLD) == "ready"
    assert HOLD < 1.0


@pytest.mark.parametrize(
    ("chunk", "told"),
    [(" ", ["pressed"]), ("\x1b", ["quiet"]), ("\x1b[A", ["pressed"]), ("\x1bOP", ["pressed"]), ("\x04", ["quit"]),
     ("aa", ["say_again"]), ("é", ["pressed"]), ("\r", ["pressed"]), ("\x1b[20~", ["unpair"])],
)  # fmt: skip
def test_an_arrow_key_is_one_press_and_escape_is_none(chunk, told):
    presses = Presses()
    assert names(chunk, presses, 1.0) == told
    if told == ["pressed"]:
        assert presses.due(2.0) == "ready"


def test_a_press_is_told_at_once_and_what_it_means_when_that_is_known():
    """The voice gives way to the press itself (within 150 ms), not to its meaning 0.7 s later."""
    presses = Presses()
    assert names("a", presses, 1.0) == ["pressed"]
    assert names("a", presses, 1.2) == ["say_again"]
    assert names("a", presses, 1.25) == [], "the rest of a held key"
    assert presses.due(2.0) is None
    assert names("a", presses, 3.0) == ["pressed"]
    assert presses.due(3.0 + HOLD) == "ready"


F8 = "\x1b[19~"  # xterm's control sequences, "PC-Style Function Keys"


@pytest.mark.parametrize(
    ("chunks", "told"),
    [
        ([F8], []),
        ([F8, F8], ["affirm"]),
        ([F8 + F8], ["affirm"]),
        ([F8 * 5, F8 * 5], ["affirm"]),
        ([F8, "x"], []),
        (["x", F8], ["pressed"]),
        ([" ", " "], ["pressed", "say_again"]),
    ],
)
def test_only_the_affirm_key_twice_affirms_and_it_is_never_ready(chunks, told):
    presses = Presses()
    assert [name for chunk in chunks for name in names(chunk, presses, 1.0)] == told
    if chunks == [F8]:
        assert presses.due(2.0) is None, "once it means nothing, and no ready either"


@pytest.mark.parametrize(
    ("chunk", "how"),
    [("\x1bOS", "slower"), ("\x1b[15~", "faster"), ("\x1b[17~", "softer"), ("\x1b[18~", "louder")],
)
def test_four_keys_change_the_voice_and_are_no_ready(chunk, how):
    presses = Presses()
    assert names(chunk, presses, 1.0) == [how]
    assert presses.due(2.0) is None


def test_a_late_second_press_does_not_affirm():
    presses = Presses()
    assert names(F8, presses, 1.0) == []
    assert presses.due(2.0) is None
    assert names(F8, presses, 2.1) == []
    assert presses.due(3.0) is None


def test_keys_of_a_real_terminal():
    """A pseudo-terminal of the system: no Enter is needed, and the terminal is as it was afterwards."""
    import termios

    ours, theirs = pty.openpty()
    told = []
    try:
        with open(theirs, "r+b", buffering=0, closefd=False) as raw, io.TextIOWrapper(raw) as stream:
            before = termios.tcgetattr(theirs)
            with read_keys(told.append, stream, hold=0.2) as reading:
                assert reading
                os.write(ours, b"x")
                time.sleep(0.6)
                os.write(ours, b"yy")
                time.sleep(0.6)
                os.write(ours, b"\x1b")
                time.sleep(0.2)
            assert termios.tcgetattr(theirs) == before
    finally:
        os.close(ours)
        os.close(theirs)
    assert [name for name in told if name != "pressed"] == ["ready", "say_again", "quiet"]
    assert told[0] == "pressed"


def test_without_a_terminal_no_key_is_read():
    with read_keys(print, io.StringIO("x")) as reading:
        assert not reading


def down_at(times, *asked):
    """Whether a key to talk that was pressed at these times is down, at each of the times asked, looked at every 20 ms
    as the ears do."""
    key, left, found = TalkKey(), list(times), []
    for step in range(round(max(asked) / 0.02) + 1):
        now = step * 0.02
        while left and left[0] <= now:
            key.press(left.pop(0))
        down = key.down(now)
        if any(abs(now - at) < 0.01 for at in asked):
            found.append(down)
    return found


@pytest.mark.parametrize("delay", [0.25, 0.5, 0.66])
def test_a_key_to_talk_that_is_held_is_down_until_it_is_let_go(delay):
    presses = held(1.0, 3.0, delay=delay)
    assert down_at(presses, 1.02, 1.6, 2.5, 3.9) == [True, True, True, True]
    assert down_at(presses, 0.5, 4.0 + LET_GO_OF_TALK + 0.1, 6.0) == [False, False, False]
    again = [*presses, *held(6.0, 2.0, delay=delay)]
    assert down_at(again, 5.0, 6.1, 7.9, 8.7) == [False, True, True, False]


def test_a_repetition_that_a_busy_machine_brings_late_cuts_nobody_off():
    presses = [time for time in held(1.0, 3.0) if not 2.0 < time < 2.5]
    assert down_at(presses, 2.45, 2.6, 3.9, 4.8) == [True, True, True, False]


def test_a_key_to_talk_that_is_pressed_once_is_down_until_it_is_pressed_again():
    assert down_at([1.0, 5.0], 0.5, 1.1, 4.9, 5.1, 9.0) == [False, True, True, False, False]
    assert down_at([1.0, 5.0, 7.0], 6.0, 7.1) == [False, True]


def test_a_key_to_talk_that_was_forgotten_lets_go_by_itself():
    """An utterance that never ends would be heard by nobody, in silence."""
    assert down_at([1.0], 1.0 + LONGEST_TALK - 0.5, 1.0 + LONGEST_TALK + 0.5) == [True, False]
    assert down_at([1.0, LONGEST_TALK + 4.0], LONGEST_TALK + 3.0, LONGEST_TALK + 4.5) == [False, True]


def test_the_key_to_talk_is_no_other_key():
    """F12 in xterm and on the Linux console; several repetitions may come in one read."""
    presses = Presses()
    assert names("\x1b[24~", presses, 1.0) == ["talk"]
    assert names("\x1b[24~\x1b[24~", presses, 1.1) == ["talk", "talk"]
    assert presses.due(5.0) is None
