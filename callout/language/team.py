"""A team's own words: the files of its folder, and how a phrase is written there."""

from __future__ import annotations

import os
import re
from pathlib import Path

from callout import config as settings
from callout.config import config_file
from callout.errors import BadInput
from callout.files import read_toml, whole_file

PARTS, PHRASES, SOUNDS = "parts.toml", "phrases.toml", "pronunciations.dict"
#: The folder in it where the team's own voices are kept (`callout/hearing/voices.py`); no words are read there.
VOICES = "voices"
#: More grammar files than this are no team's words.
MOST_FILES = 20
_PHRASES_HEAD = "# A team's own ways to say a command: command = [\"phrase\", ...]. They are taken when typed.\n"


def team_folder() -> Path | None:
    """The folder of a team's own words: where CALLOUT_TEAM says, or `words` beside `callout.toml`; None where there is
    none yet.

    It may hold `parts.toml` (lines added to, or put in place of, the same lines of ours), `phrases.toml` (other ways to
    say a command), `*.grammar` (rules to add to ours with |=) and `pronunciations.dict`. Raises BadInput for what is no
    such folder: one that is named and not there, or is full of other things.
    """
    folder = where_words_go()
    return folder if is_named() or (folder.is_dir() and _checked("a team's words lie in", folder)) else None


def is_named() -> bool:
    """Whether a team named a folder of its own. Raises BadInput where it cannot be used."""
    return bool(os.environ.get("CALLOUT_TEAM")) and _checked("CALLOUT_TEAM names", where_words_go())


def _named_in_the_file(folder: Path) -> str:
    """The file of settings where it is what names the folder; empty where the variable or the option does."""
    try:
        team = next(value for value in settings.load(environment={}) if value.setting.name == "team")
    except BadInput:
        return ""
    return team.source if team.value == str(folder) else ""


def _checked(says: str, folder: Path) -> bool:
    """True; raises BadInput for a folder that is not there, or is full of other things."""
    try:
        return _is_a_teams(says, folder, "unset CALLOUT_TEAM")
    except BadInput:
        file = _named_in_the_file(folder)
        if not file:
            raise
        return _is_a_teams(f"team in {file} names", folder, "correct team there")


def _is_a_teams(says: str, folder: Path, else_do: str) -> bool:
    shown = str(folder) if len(str(folder)) <= 80 else f"{str(folder)[:77]}..."
    try:
        names = os.listdir(folder)
    except (OSError, ValueError):
        raise BadInput(f"{says} {shown!r}, which is no folder; make it, or {else_do}") from None
    others = [name for name in names if not name.startswith(".") and name != VOICES]
    if others and not any(_is_ours(name) for name in names):
        wanted = f"{PHRASES}, {PARTS}, a .grammar file or {SOUNDS}"
        raise BadInput(f"{says} {shown!r}, which holds no words of a team ({wanted}); name another folder")
    return True


def where_words_go() -> Path:
    """The folder into which the next word taught is written; it need not exist where none is named."""
    return Path(os.environ.get("CALLOUT_TEAM") or config_file().parent / "words")


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
    """Put a team's phrases on the disk, whole or not at all. Where no folder is named and there is none yet, it is
    made. Raises BadInput for one that cannot be written."""
    file = (team_folder() or where_words_go()) / PHRASES
    lines = [f"{command} = [{', '.join(_quoted(p) for p in ways)}]\n" for command, ways in phrases.items()]
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(file) as out:
            out.write(_PHRASES_HEAD + "".join(lines))
    except OSError as wrong:
        raise BadInput(f"cannot write {file}: {wrong.strerror}; make the folder writable") from None
    return file


def _quoted(phrase: str) -> str:
    return '"' + re.sub(r'(["\\])', r"\\\1", phrase) + '"'
