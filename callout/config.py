"""What a team sets once instead of each shift: a file `callout.toml`, or environment variables.

Each setting is one row of `SETTINGS`: its name in the file, the options that it feeds, and what it is for. An option
on the command line wins, then the environment variable, then the file, then what the program does by itself. The file
lies in the user's folder for settings, or where CALLOUT_CONFIG says; never in the current folder, which anybody may
have written.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import platformdirs

from callout.errors import BadInput
from callout.files import tomllib

LARGEST = 100_000  # bytes

Kind = Literal["text", "path", "switch", "pair"]


@dataclass(frozen=True)
class TeamSetting:
    """`feeds` names the options whose default it gives, as "command.option"; the environment variable is CALLOUT_ and
    the name in capitals. A `path` in the file is meant from the folder of the file."""

    name: str
    kind: Kind
    feeds: tuple[str, ...]
    says: str
    example: str

    @property
    def variable(self) -> str:
        return f"CALLOUT_{self.name.upper()}"

    @property
    def option(self) -> str:
        """As it is written; one that feeds no command stands before the command: callout --team FOLDER listen."""
        return "--" + (self.feeds[0].split(".")[1] if self.feeds else self.name).replace("_", "-")


SETTINGS: tuple[TeamSetting, ...] = (
    TeamSetting("stock", "path", ("listen.stock", "plan.stock", "log.stock", "stock.file"),
            "your stock file", '"yard.toml"'),
    TeamSetting("journal", "path", ("listen.journal",), "the journal that every conversation writes", '"day.journal"'),
    TeamSetting("measurer", "text", ("listen.measurer",), "where the measurer is heard: mic, mic:NAME or typed",
            '"mic:radio line"'),
    TeamSetting("logistics", "text", ("listen.logistics",), "where logistics is heard, likewise", '"mic:headset"'),
    TeamSetting("radio_out", "text", ("listen.radio_out",), "the output that speaks to the measurer", '"radio line"'),
    TeamSetting("vox_lead", "text", ("listen.vox_lead",), "the lead tone that opens the radio's key", '"500ms"'),
    TeamSetting("radio_silence", "text", ("listen.radio_silence",), "the silence after the lead tone", '"500ms"'),
    TeamSetting("tones", "text", ("listen.tones",), "which tones go before sentences: all, none, or names",
            '"readback,warning"'),
    TeamSetting("voice", "text", ("listen.voice",), "which voice speaks: plain, or heart where it is installed",
            '"heart"'),
    TeamSetting("pace", "pair", ("listen.pace",), "words a minute of the voice: figures, and the rest", "[100, 130]"),
    TeamSetting("guard", "text", ("listen.guard",), "what a heard affirm needs; only upward", '"long"'),
    TeamSetting("keep_audio", "switch", ("listen.keep_audio",), "keep the sound of every utterance beside the journal",
            "true"),
    TeamSetting("voices", "text", ("listen.voices",), "whose own voice is judged by (callout voices)",
            '"kim"'),
    TeamSetting("key_to_talk", "switch", ("listen.key_to_talk",), "hear only while F12 is held (push to talk)", "true"),
    TeamSetting("mute", "switch", ("listen.mute",), "without the voice", "false"),
    TeamSetting("screen", "switch", ("listen.screen",), "the full screen instead of lines", "true"),
    TeamSetting("team", "path", (), "the folder of your team's own words", '"words"'),
)  # fmt: skip

BY_NAME = {setting.name: setting for setting in SETTINGS}


@dataclass(frozen=True)
class Value:
    """What holds for a setting, and where it comes from: "default", a variable's name, or the file's path."""

    setting: TeamSetting
    value: Any
    source: str


def config_file() -> Path:
    """Where the settings are read from; it need not exist."""
    named = os.environ.get("CALLOUT_CONFIG")
    return Path(named) if named else platformdirs.user_config_path("callout", appauthor=False) / "callout.toml"


def load(file: Path | None = None, environment: Mapping[str, str] | None = None) -> tuple[Value, ...]:
    """Every setting with what holds for it. Raises BadInput for a file or a variable that cannot be used."""
    file = config_file() if file is None else file
    environment = os.environ if environment is None else environment
    written = _read(file)
    unknown = [name for name in written if name not in BY_NAME]
    if unknown:
        raise BadInput(f"{file}: there is no setting {unknown[0]!r}; callout config lists them")
    values = []
    for setting in SETTINGS:
        given = environment.get(setting.variable, "")
        if given:
            values.append(Value(setting, _from_text(setting, given), setting.variable))
        elif setting.name in written:
            values.append(Value(setting, _from_toml(setting, written[setting.name], file), str(file)))
        else:
            values.append(Value(setting, None, "default"))
    return tuple(values)


def defaults_of_options(values: tuple[Value, ...]) -> dict[str, dict[str, Any]]:
    """The defaults of the commands' options, as click's `default_map` takes them."""
    found: dict[str, dict[str, Any]] = {}
    for value in values:
        for feeds in value.setting.feeds if value.value is not None else ():
            command, option = feeds.split(".")
            found.setdefault(command, {})[option] = value.value
    return found


def unfit(value: Value, why: str) -> str:
    """The line that says what is wrong with a setting, where it stands, and what to write."""
    setting = value.setting
    written = list(value.value) if isinstance(value.value, tuple) else value.value
    place = value.source if value.source == setting.variable else f"{value.source}: {setting.name}"
    return f"{place} is {written!r}: {why.rstrip('.')}; in the file write it as {setting.name} = {setting.example}"


def example() -> str:
    """A commented file with every setting, switched off."""
    lines = ["# Settings of callout. Take away the # of what you set.", ""]
    for setting in SETTINGS:
        lines += [f"# {setting.says}  (option {setting.option}, variable {setting.variable})",
                  f"#{setting.name} = {setting.example}", ""]  # fmt: skip
    return "\n".join(lines)


def _read(file: Path) -> dict[str, Any]:
    try:
        if not stat.S_ISREG(file.stat().st_mode):
            raise BadInput(f"{file}: not a regular file; settings are read from a TOML file")
        with file.open("rb") as handle:
            raw = handle.read(LARGEST + 1)
    except FileNotFoundError:
        if "CALLOUT_CONFIG" in os.environ:
            raise BadInput(f"{file}: no such file of settings; correct CALLOUT_CONFIG, or unset it") from None
        return {}
    except (OSError, ValueError) as failed:
        reason = getattr(failed, "strerror", None) or failed
        raise BadInput(f"cannot read the settings {file} ({reason}); set CALLOUT_CONFIG to another file") from None
    if len(raw) > LARGEST:
        raise BadInput(f"{file}: too large for settings; name another file with CALLOUT_CONFIG")
    try:
        table: dict[str, Any] = tomllib.loads(raw.decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as wrong:
        path = "; write a path with / or in single quotes: stock = 'C:\\yard.toml'" if b"\\" in raw else ""
        raise BadInput(f"{file}: not valid TOML ({' '.join(str(wrong).split())[:120]}); mend it{path}") from None
    return table


def _from_text(setting: TeamSetting, text: str) -> Any:
    """A setting out of an environment variable."""
    if setting.kind == "switch":
        if text.lower() not in ("1", "0", "true", "false", "yes", "no"):
            raise BadInput(f"{setting.variable}={text!r}: write 1 or 0")
        return text.lower() in ("1", "true", "yes")
    if setting.kind == "pair":
        parts = text.replace(",", " ").split()
        try:
            first, second = (float(part) for part in parts)
        except ValueError:
            raise BadInput(f"{setting.variable}={text!r}: write two numbers, as 100 130") from None
        return (first, second)
    return text


def _from_toml(setting: TeamSetting, value: Any, file: Path) -> Any:
    """A setting out of the file."""
    number = (int, float)
    good = {
        "text": isinstance(value, str), "path": isinstance(value, str), "switch": isinstance(value, bool),
        "pair": isinstance(value, list) and len(value) == 2
        and all(isinstance(part, number) and not isinstance(part, bool) for part in value),
    }[setting.kind]  # fmt: skip
    if not good:
        raise BadInput(f"{file}: {setting.name} is {value!r}; write it as {setting.name} = {setting.example}")
    if setting.kind == "path":
        return str(file.parent / Path(value).expanduser())
    return (float(value[0]), float(value[1])) if setting.kind == "pair" else value
