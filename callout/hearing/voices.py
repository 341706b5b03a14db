"""A team's own voices: how far a talker's recordings move the bars of the decision, kept in the team's folder.

What is kept of a talker is one small file of figures, no sound. It moves nothing but the log-odds from which all three
opinions take a meaning together, and that within bounds that every reader of such a file holds to, whoever wrote it.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from callout.config import config_file
from callout.errors import BadInput
from callout.files import private, private_folder, read_toml, whole_file
from callout.hearing import agreement
from callout.hearing.agreement import DecisionSettings, clip, settings
from callout.language.team import VOICES, is_named, where_words_go

#: How far a bar may sink, in log-odds. At the bar a taken meaning costs as much as asking again; half the odds cost at
#: most twice that, should the talker be no clearer than anyone. Forty recordings cannot allow more: without a wrong one
#: among them, one in fourteen may still go wrong (the rule of three, 3 / 40), and a bar stands at one in fifty. What
#: moves something never gets easier, and neither do digits.
EASIER = {"callout": math.log(2.0), "command": 0.0, "harmless": math.log(2.0), "digits": 0.0}
#: How far it may rise: more is a talker whom the ears do not hear.
HARDER = math.log(4.0)

_NAME = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,28}[a-z0-9])?")
_HEAD = "# How clear {name} is to the ears; figures only, no sound. To delete it: callout voices forget {name}\n"


class VoiceFigures(BaseModel):
    """Of recordings with known words: taken right, asked again (or not heard), taken wrongly."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    right: int = Field(ge=0)
    asked: int = Field(ge=0)
    wrong: int = Field(ge=0)


class KnownVoice(BaseModel):
    """What is kept of a talker. `shift` moves the bar of a stake, in log-odds: below 0 is easier. `before` and `after`
    count each recording by what the others taught. `manifest` and `decisions` are SHA-256 of the recordings' list, and
    of the decisions that were moved."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    name: str
    learned: str
    recordings: int = Field(ge=1)
    manifest: str
    decisions: str
    shift: dict[str, float]
    before: VoiceFigures
    after: VoiceFigures


def shifted(chosen: DecisionSettings, shift: Mapping[str, float]) -> DecisionSettings:
    """The decisions with the bars of a talker, within the bounds. Only where all three opinions are heard does a bar
    sink; where it rises, it rises for two ears as well."""
    moved = {stake: clip(shift.get(stake, 0.0), -EASIER[stake], HARDER) for stake in EASIER}
    return replace(
        chosen,
        agreed={stake: bar + max(0.0, moved[stake]) for stake, bar in chosen.agreed.items()},
        sure={stake: bar + max(0.0, moved[stake]) for stake, bar in chosen.sure.items()},
        agreed_three={stake: bar + moved[stake] for stake, bar in chosen.agreed_three.items()},
    )


def decisions_of(name: str) -> DecisionSettings:
    """The package's decisions with the bars of a talker. Raises BadInput where nothing usable is kept of them."""
    return shifted(settings(), load_voice(name).shift)


def decisions_digest() -> str:
    """Which decisions these are: a talker's bars mean nothing to others."""
    return hashlib.sha256(Path(agreement.__file__).with_name("decisions.json").read_bytes()).hexdigest()


def callsign(name: str) -> str:
    """A talker's name as it is kept: "Bravo Two" is bravo-two. Raises BadInput for what is no name."""
    plain = "-".join(name.lower().split())
    if not _NAME.fullmatch(plain):
        raise BadInput(f"{name[:40]!r} is no callsign; write letters, digits and hyphens, thirty at most")
    return plain


def voices_folder() -> Path:
    """In the team's folder, or beside the settings where there is none; it need not exist."""
    return (where_words_go() if is_named() else config_file().parent) / VOICES


def kept_voices() -> list[str]:
    """The talkers of whom something is kept."""
    folder = voices_folder()
    return sorted(file.stem for file in folder.glob("*.toml")) if folder.is_dir() else []


def load_voice(name: str) -> KnownVoice:
    """What is kept of a talker. Raises BadInput where there is nothing, where somebody changed it to what is never
    learned, and where it was learned for other decisions."""
    name = callsign(name)
    file = voices_folder() / f"{name}.toml"
    if not file.exists():
        known = ", ".join(kept_voices()) or "none yet"
        raise BadInput(f"no voice is kept of {name!r} (kept: {known}); learn it with: callout voices learn")
    again = f"forget it (callout voices forget {name}) and learn it again"
    try:
        voice = KnownVoice.model_validate(read_toml(file))
    except ValidationError as wrong:
        first = wrong.errors()[0]
        where = ".".join(str(step) for step in first["loc"])
        raise BadInput(f"{file}: {where}: {first['msg']}; {again}") from None
    if voice.name != name:
        raise BadInput(f"{file}: holds the voice of {voice.name[:40]!r}; {again}")
    for stake, shift in voice.shift.items():
        if stake not in EASIER or not -EASIER[stake] - 1e-9 <= shift <= HARDER + 1e-9:
            raise BadInput(f"{file}: a shift of {shift:g} for {stake[:40]!r} is never learned; {again}")
    if voice.decisions != decisions_digest():
        raise BadInput(f"{file}: was learned for other ears than these; {again}")
    return voice


def keep_voice(voice: KnownVoice) -> Path:
    """Write what was learned, whole or not at all, for its owner alone. Raises BadInput where that cannot be."""
    folder = voices_folder()
    file = folder / f"{callsign(voice.name)}.toml"
    try:
        private_folder(folder)
        with whole_file(file, private) as out:
            out.write(_as_toml(voice))
    except OSError as failed:
        raise BadInput(f"cannot write {file} ({failed.strerror}); make the folder writable") from None
    return file


def forget_voice(name: str) -> Path:
    """Delete what is kept of a talker. Raises BadInput where nothing is."""
    file = voices_folder() / f"{callsign(name)}.toml"
    try:
        file.unlink()
    except FileNotFoundError:
        known = ", ".join(kept_voices()) or "none"
        raise BadInput(f"no voice is kept of {file.stem!r} (kept: {known})") from None
    except OSError as failed:
        raise BadInput(f"cannot delete {file} ({failed.strerror}); make the folder writable") from None
    return file


def _as_toml(voice: KnownVoice) -> str:
    """JSON's strings and numbers are TOML's, too."""
    lines, tables = [], []
    for name, value in voice.model_dump().items():
        if isinstance(value, dict):
            tables += ["", f"[{name}]", *(f"{key} = {json.dumps(one)}" for key, one in value.items())]
        else:
            lines.append(f"{name} = {json.dumps(value)}")
    return _HEAD.format(name=voice.name) + "\n".join([*lines, *tables]) + "\n"
