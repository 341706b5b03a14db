"""Large letters for a terminal: each three by five dots, drawn with half blocks, at any whole size.

A terminal's cell is about twice as high as wide, so half a cell is a square dot. Letters are capitals; a sign that has
no dots here stands as it is in small print elsewhere, and is left out in large print.
"""

from __future__ import annotations

import textwrap
from functools import lru_cache

#: Letter -> its five rows; wider letters have wider rows.
DOTS = {
    "A": ".#. #.# ### #.# #.#", "B": "##. #.# ##. #.# ##.", "C": ".## #.. #.. #.. .##", "D": "##. #.# #.# #.# ##.",
    "E": "### #.. ##. #.. ###", "F": "### #.. ##. #.. #..", "G": ".## #.. #.# #.# .##", "H": "#.# #.# ### #.# #.#",
    "I": "### .#. .#. .#. ###", "J": "..# ..# ..# #.# .#.", "K": "#.# #.# ##. #.# #.#", "L": "#.. #.. #.. #.. ###",
    "M": "#...# ##.## #.#.# #...# #...#", "N": "#..# ##.# #.## #..# #..#", "O": "### #.# #.# #.# ###",
    "P": "##. #.# ##. #.. #..", "Q": "### #.# #.# ### ..#", "R": "##. #.# ##. #.# #.#", "S": ".## #.. .#. ..# ##.",
    "T": "### .#. .#. .#. .#.", "U": "#.# #.# #.# #.# ###", "V": "#.# #.# #.# #.# .#.",
    "W": "#...# #...# #.#.# ##.## #...#", "X": "#.# #.# .#. #.# #.#", "Y": "#.# #.# .#. .#. .#.",
    "Z": "### ..# .#. #.. ###",
    "0": ".#. #.# #.# #.# .#.", "1": ".#. ##. .#. .#. ###", "2": "##. ..# .#. #.. ###", "3": "##. ..# .#. ..# ##.",
    "4": "#.# #.# ### ..# ..#", "5": "### #.. ##. ..# ##.", "6": ".## #.. ### #.# ###", "7": "### ..# .#. .#. .#.",
    "8": "### #.# ### #.# ###", "9": "### #.# ### ..# ##.",
    " ": ". . . . .", ".": ". . . . #", ",": ".. .. .. .# #.", "-": "... ... ### ... ...", "/": "..# ..# .#. #.. #..",
    "°": "### #.# ### ... ...", "@": "##### #...# #.### #.##. #####", "'": "# # . . .", "?": "##. ..# .#. ... .#.",
    "!": "# # # . #", "+": "... .#. ### .#. ...", "%": "#.# ..# .#. #.. #.#", ":": ". # . # .",
    "=": "... ### ... ### ...",
    "×": "... #.# .#. #.# ...",
    "(": ".# #. #. #. .#", ")": "#. .# .# .# #.", '"': "#.# #.# ... ... ...",
    "&": ".#. #.# .#. #.# .##",
}  # fmt: skip
DOT_ROWS = 5
LARGEST = 6


@lru_cache(maxsize=256)
def _glyph(letter: str) -> tuple[str, ...]:
    return tuple(DOTS.get(letter.upper(), DOTS["?"]).split())


def width(text: str, scale: int) -> int:
    """How many columns `text` takes in one line."""
    return max(0, sum(len(_glyph(letter)[0]) + 1 for letter in text) - 1) * scale


def rows(scale: int, lines: int = 1) -> int:
    """How many rows `lines` lines take, the space between them included."""
    one = -(-DOT_ROWS * scale // 2)
    return one * lines + (lines - 1) * (scale > 1)


def cells(scale: int) -> float:
    """How high a capital is, in terminal rows: what an eye at a distance has to read."""
    return DOT_ROWS * scale / 2


def draw(text: str, scale: int) -> list[str]:
    """One line of large letters as rows of text."""
    dots = []
    for row in range(DOT_ROWS):
        line = ".".join(_glyph(letter)[row] for letter in text)
        dots += ["".join(dot * scale for dot in line)] * scale
    if len(dots) % 2:
        dots.append("." * len(dots[0]))
    pair = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}
    return [
        "".join(pair[a + b] for a, b in zip(top, bottom, strict=True)).rstrip()
        for top, bottom in zip(dots[::2], dots[1::2], strict=True)
    ]


def wrapped(text: str, scale: int, columns: int) -> list[str] | None:
    """`text` in lines of whole words that fit in `columns`; None where a word alone does not."""
    lines: list[str] = []
    for word in text.split():
        if width(word, scale) > columns:
            return None
        if lines and width(f"{lines[-1]} {word}", scale) <= columns:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def large_lines(texts: list[str], columns: int, height: int) -> tuple[list[str], int]:
    """Several texts as large as fits, side by side or one under the other, none of them broken in two; and the scale.
    Where not even small letters of this kind fit they stand in small print."""
    for scale in range(LARGEST, 0, -1):
        for lines in ([" @ ".join(texts)], texts):
            if rows(scale, len(lines)) <= height and all(width(line, scale) <= columns for line in lines):
                found: list[str] = []
                for line in lines:
                    found += [*([""] if found and scale > 1 else []), *draw(line, scale)]
                return found, scale
    return textwrap.wrap(" @ ".join(texts), columns, break_on_hyphens=False), 0


def large(text: str, columns: int, height: int, largest: int = LARGEST) -> tuple[list[str], int]:
    """`text` as large as fits, and its scale; scale 0 is small print, wrapped at words and never cut short."""
    for scale in range(largest, 0, -1):
        lines = wrapped(text, scale, columns)
        if lines and rows(scale, len(lines)) <= height:
            found: list[str] = []
            for line in lines:
                found += [*([""] if found and scale > 1 else []), *draw(line, scale)]
            return found, scale
    return textwrap.wrap(text, columns, break_on_hyphens=False), 0
