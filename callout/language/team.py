"""A team's own words: the files of the folder that CALLOUT_TEAM names, and how a phrase is taught."""

from __future__ import annotations

import os
import re
from pathlib import Path

from callout.errors import BadInput
from callout.files import read_toml, whole_file

PARTS, PHRASES, SOUNDS = "parts.toml", "phrases.toml", "pronunciations.dict"
#: The folder in it where the team's own voices are kept (`callout/hearing/voices.py`); no words are read there.
VOICES = "voices"
#: Where nothing can be taught.
NO_FOLDER = "no folder for a team's words; make one and name it: mkdir team; export CALLOUT_TEAM=$PWD/team"
#: More grammar files than this are no team's words.
MOST_FILES = 20
_PHRASES_HEAD = "# A team's own ways to say a command: command = [\"phrase\", ...]. They are taken when typed.\n"


def team_folder() -> Path | None:
    """The folder of a team's own words, named by the environment variable CALLOUT_TEAM; None where there is none.

    It may hold `parts.toml` (lines added to, or put in place of, the same lines of ours), `phrases.toml` (other ways to
    say a command), `*.grammar` (rules to add to ours with |=) and `pronunciations.dict`. Raises BadInput for what is no
    such folder: one that is not there, or is full of other things.
    """
    named = os.environ.get("CALLOUT_TEAM")
    if not named:
        return None
    shown = named if len(named) <= 80 else f"{named[:77]}..."
    try:
        folder = Path(named)
        names = os.listdir(folder)
    except (OSError, ValueError):
        raise BadInput(f"CALLOUT_TEAM names {shown!r}, which is no folder; make it, or unset CALLOUT_TEAM") from None
    others = [name for name in names if not name.startswith(".") and name != VOICES]
    if others and not any(_is_ours(name) for name in names):
        wanted = f"{PHRASES}, {PARTS}, a .grammar file or {SOUNDS}"
        raise BadInput(f"CALLOUT_TEAM names {shown!r}, which holds no words of a team ({wanted}); name another folder")
    return folder


def team_files() -> list[Path]:
    """The files of the team's folder that are read, in order; nothing else there is opened."""
    folder = team_folder()
    return [] if folder is None else [folder / name for name in sorted(os.listdir(folder)) if _is_ours(name)]


def _is_ours(name: str) -> bool:
    return name in (PARTS, PHRASES, SOUNDS) or name.endswith(".grammar")


def team_grammars() -> list[Path]:
    """The team's grammar files. Raises BadInput where there are too many to be a team's words."""
    found = [file for file in team_files() if file.suffix == ".grammar"]
    if len(found) > MOST_FILES:
        raise BadInput(f"{len(found)} grammar files in CALLOUT_TEAM; put their lines into {MOST_FILES} at most")
    return found


def team_phrases() -> dict[str, tuple[str, ...]]:
    """Command -> the team's own ways to say it, lines of grammar. Raises BadInput for a line that is no such list."""
    folder = team_folder()
    file = None if folder is None else folder / PHRASES
    if file is None or not file.exists():
        return {}
    found = {}
    for command, phrases in read_toml(file).items():
        if not (isinstance(phrases, list) and phrases and all(isinstance(p, str) and p.strip() for p in phrases)):
            raise BadInput(f'{PHRASES}: write {command} = ["a phrase", "another"]')
        found[command] = tuple(phrases)
    return found


def write_phrases(phrases: dict[str, tuple[str, ...]]) -> Path:
    """Put a team's phrases on the disk, whole or not at all. Raises BadInput without a folder to put them into."""
    folder = team_folder()
    if folder is None:
        raise BadInput(NO_FOLDER)
    file = folder / PHRASES
    lines = [f"{command} = [{', '.join(_quoted(p) for p in ways)}]\n" for command, ways in phrases.items()]
    try:
        with whole_file(file) as out:
            out.write(_PHRASES_HEAD + "".join(lines))
    except OSError as wrong:
        raise BadInput(f"cannot write {file}: {wrong.strerror}; make the folder writable") from None
    return file


def _quoted(phrase: str) -> str:
    return '"' + re.sub(r'(["\\])', r"\\\1", phrase) + '"'
