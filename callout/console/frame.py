"""What the three views share: what the screen knows beside the board, a head line with the signs, a foot with what was
heard and the keys, the log in the room between."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, field
from datetime import datetime

from callout.console.letters import large, rows
from callout.console.listing import WIDE, hanging, text_lines, time_of_day
from callout.console.themes import Line
from callout.dialogue.board import Board
from callout.untrusted_text import for_screen

SMALL = 30  # lines: every one of them is wanted


@dataclass(frozen=True)
class EarSign:
    """One side's microphone or line: its level in decibels below full (None: nothing came in yet)."""

    role: str
    what: str
    level: float | None = None
    open: bool = False  # somebody speaks


@dataclass(frozen=True)
class Face:
    """What the screen knows beside the board: who is heard, what was heard last, the log, the signs of the rim."""

    heard: str = ""
    sure: bool = True  # False while an utterance goes on
    working: str = ""  # a line that was typed and has no answer yet
    log: tuple[str, ...] = ()
    ears: tuple[EarSign, ...] = ()
    speaking: bool = False
    radio: str = ""  # the output that speaks to the measurer
    muted: bool = False
    keys: tuple[tuple[str, str], ...] = ()
    hint: str = ""  # what a key has just not done
    notice: str = ""
    notice_until: float = 0.0  # in seconds of the clock that `now` is of
    now: float = 0.0
    clock: datetime = field(default_factory=lambda: datetime.now().astimezone())


def head_and_foot(
    name: str, board: Board, face: Face, columns: int, height: int, heard: int = 0
) -> tuple[list[Line], list[Line]]:  # fmt: skip
    """The head and the foot, with at most so many lines of what was heard."""
    clock, between = face.clock.strftime("%H:%M:%S" if columns >= 60 else "%H:%M"), 2
    signs = _signs(face, columns - len(name) - len(clock) - between - 1)
    gap = max(1, columns - len(name) - len(signs) - len(clock) - between)
    top: list[Line] = [[(name, "strong"), ("  ", ""), (signs, ""), (" " * gap, ""), (clock, "")]]
    if board.live is False:
        text = f"!! NOBODY WRITES THIS JOURNAL, last written {_moment(board.time, face.clock)}"
        top += text_lines(text, columns, "alarm", pad=True)
    if board.halted:
        since = f" {time_of_day(board.halted_since)}" if board.halted_since else ""
        top += text_lines(f"!! SILENT SINCE {board.halted.upper()}{since}. Say: go ahead", columns, "alarm", pad=True)
        most = rows(2) if height >= SMALL else rows(1)
        for text in (f"silent {board.halted}", board.halted):
            lines, scale = large(for_screen(text), columns, most, largest=2)
            if scale:
                top += [[(f"{line:<{columns}}", "alarm")] for line in lines]
                break
    said = _heard(board, face, columns, heard or (2 if height < SMALL else 3), when=name == "OVERVIEW")
    foot: list[Line] = [[(line, "quiet" if face.sure else "strong")] for line in said]
    notice = face.notice if face.now < face.notice_until else ""
    foot += text_lines(notice, columns, "now", pad=True)
    return top, [*foot, *text_lines(face.hint, columns, "alarm", pad=True), *_keys(face, columns)]


def _moment(moment: str | None, clock: datetime) -> str:
    """ "10:48", with its day where that is not today's."""
    if moment is None:
        return "-"
    return moment[11:16] if moment[:10] == clock.isoformat()[:10] else moment[:16].replace("T", " ")


def _heard(board: Board, face: Face, columns: int, most: int, *, when: bool) -> list[str]:
    """What was heard last, in at most so many lines. Who said it stays, with `when`, and the end of it, where the
    figures are: what does not fit goes from between."""
    heads, text = ["heard: "], "-"
    if face.working:
        heads, text = ["working on: "], face.working
    elif not face.sure:
        heads, text = ["... "], face.heard
    elif board.heard is not None:
        heads, text = [f"{time_of_day(board.heard.time)} {board.heard.speaker}: "], board.heard.text
        if not when:
            heads.append(f"{board.heard.speaker}: ")
    words = for_screen(text).split()
    shorter = (f"{heads[-1].removesuffix('... ')}... {' '.join(words[n:])}" for n in range(1, len(words)))
    for whole in (*(f"{head}{' '.join(words)}" for head in heads), *shorter):
        lines = textwrap.wrap(for_screen(whole), columns, subsequent_indent="  ", break_on_hyphens=False) or [""]
        if len(lines) <= most:
            return lines
    return lines[-most:]


def _signs(face: Face, room: int) -> str:
    """Microphones with their level, the voice, the radio: the longest that fits. That a radio is there is told even
    where its name does not fit."""
    ears = [f"{'mic' if ear.what == 'mic' else ear.what} {_level(ear)}" for ear in face.ears] or ["keys only"]
    voice = "muted" if face.muted else "SPEAKING" if face.speaking else "voice on"
    radio = f"radio {face.radio}" if face.radio else "radio -"
    long = "  ".join([*(f"{e.role} {t}" for e, t in zip(face.ears, ears, strict=False)), voice, radio])
    tight = " ".join([*ears, voice, *(["radio"] if face.radio else [])])
    for text in (long, "  ".join([*ears, voice, radio]), tight, " ".join([*ears, voice]), " ".join(ears)):
        if len(text) <= room:
            return text
    return ""


def _level(ear: EarSign) -> str:
    """Five steps from -60 dB up; "!" where it is cut off at the top; "?" before anything came in."""
    if ear.level is None:
        return "?"
    steps = max(0, min(5, int((ear.level + 60) // 10)))
    return "#" * steps + "." * (5 - steps) + ("!" if ear.level > -1 else "*" if ear.open else "")


def _keys(face: Face, columns: int) -> list[Line]:
    keys = [f"{key} {does}" for key, does in face.keys if columns > WIDE or len(key + does) < 20]
    lines: list[str] = []
    for key in keys:
        if lines and len(lines[-1]) + 3 + len(key) <= columns:
            lines[-1] += f" | {key}"
        else:
            lines.append(key)
    return [[(line, "quiet")] for line in lines]


def whole_screen(
    top: list[Line], body: list[Line], bottom: list[Line], face: Face, columns: int, height: int
) -> list[Line]:  # fmt: skip
    """Exactly `height` lines: the room that is left takes the log. What does not fit is left off the body's end, and
    that is said."""
    room = height - len(top) - len(bottom)
    body = [*body]
    while body and not body[-1]:
        body.pop()
    if len(body) > room:
        body = [*body[: max(0, room - 1)], [("(more on a larger screen)", "quiet")]][:room]
    left = room - len(body)
    log: list[Line] = []
    if left >= 4:
        lines: list[str] = []
        for text in reversed(face.log[-left:]):
            block = hanging(text, columns)
            if len(block) + len(lines) > left - 2:
                break
            lines = [*block, *lines]
        log = [[("said and heard", "quiet")], *([(line, "quiet")] for line in lines)] if lines else []
    filler: list[Line] = [[] for _ in range(left - len(log))]
    return [*top, *body, *filler, *log, *bottom][:height]
