"""What is set once holds for every command, and the nearest word wins: option, variable, file, default."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from unittest import mock

import click
import jsonschema
import pytest

from callout import cli, config
from callout.errors import BadInput
from callout.schemas import schema_of
from tests.here import Done, run_here
from tests.team_words import forget


def run(folder: Path, *words: str, text: str = "", **more: str) -> Done:
    with mock.patch.dict(os.environ, {"CALLOUT_CONFIG": str(folder / "callout.toml"), **more}):
        return run_here(*words, text=text)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "callout.toml").write_text(
        'journal = "day.journal"\nmeasurer = "mic:line"\nlogistics = "mic"\nmute = true\npace = [90, 120]\n'
    )
    return tmp_path


def test_every_setting_feeds_options_that_there_are() -> None:
    """Options of commands that are not installed here may be named; a slip in a name may not."""
    for setting in config.SETTINGS:
        for feeds in setting.feeds:
            name, option = feeds.split(".")
            if name in cli.COMMANDS:
                command = cli.group.get_command(click.Context(cli.group), name)
                assert command is not None
                assert option in {parameter.name for parameter in command.params}, feeds


PAGE = (Path(__file__).resolve().parent.parent / "docs" / "settings.md").read_text("utf-8")


def test_the_page_has_each_setting_with_its_option_and_its_variable() -> None:
    rows = [line for line in PAGE.splitlines() if line.startswith("| `") and line.count("|") == 6]
    assert rows == [
        f"| `{one.name}` | `{one.option}` | `{one.variable}` | {one.says} | `{one.name} = {one.example}` |"
        for one in config.SETTINGS
    ]


def test_the_page_has_every_variable_that_the_program_reads() -> None:
    code = Path(config.__file__).parent.rglob("*.py")
    read = {name for file in code for name in re.findall(r"CALLOUT_[A-Z]+", file.read_text("utf-8"))}
    # Of these, completion is the shell's own way to ask (docs of click), and its script sets it.
    assert read - {"CALLOUT_COMPLETE"} <= set(re.findall(r"`(CALLOUT_[A-Z_]+)`", PAGE))


def test_a_teams_words_are_named_by_an_option_a_variable_or_the_file(folder: Path) -> None:
    for name, phrase in (("one", "fetch it"), ("two", "haul it")):
        (folder / name).mkdir()
        (folder / name / "phrases.toml").write_text(f'ready = ["{phrase}"]\n')
    with (folder / "callout.toml").open("a") as file:
        file.write('team = "one"\n')

    def taken(phrase: str, *options: str, **variables: str) -> bool:
        forget(anyway=True)
        done = run(folder, *options, "read", phrase, "--json", **variables)
        forget(anyway=True)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)["outcome"] == "understood"

    assert taken("fetch it")
    assert not taken("haul it")
    assert taken("haul it", CALLOUT_TEAM=str(folder / "two"))
    assert taken("haul it", "--team", str(folder / "two"), CALLOUT_TEAM=str(folder / "one"))


def test_the_nearest_word_wins(folder: Path) -> None:
    def sources(**variables: str) -> dict[str, tuple[object, str]]:
        return {
            value.setting.name: (value.value, value.source)
            for value in config.load(folder / "callout.toml", variables)
        }

    file = str(folder / "callout.toml")
    assert sources()["pace"] == ((90, 120), file)
    assert sources(CALLOUT_PACE="100 130")["pace"] == ((100, 130), "CALLOUT_PACE")
    assert sources()["journal"] == (str(folder / "day.journal"), file)
    assert sources()["stock"] == (None, "default")
    assert sources(CALLOUT_MUTE="no")["mute"] == (False, "CALLOUT_MUTE")


def test_a_conversation_uses_what_is_set_and_typed_words_need_no_microphone(folder: Path) -> None:
    """The first with a real start."""
    done = subprocess.run(
        [sys.executable, "-m", "callout", "listen", "--typed", "--json"], input="insertion eleven feet sixty\n",
        capture_output=True, text=True, env={**os.environ, "CALLOUT_CONFIG": str(folder / "callout.toml")},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert (folder / "day.journal").exists()
    other = run(folder, "listen", "--typed", "--json", "--journal", str(folder / "other"), text="insertion ten feet\n")
    assert other.returncode == 0, other.stderr
    assert (folder / "other").exists()


def test_the_list_says_where_each_comes_from(folder: Path) -> None:
    done = run(folder, "config", "--json", CALLOUT_GUARD="long")
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    for line in lines:
        jsonschema.validate(line, schema_of("config"))
    by_name = {line["setting"]: line for line in lines}
    assert set(by_name) == {setting.name for setting in config.SETTINGS}
    assert (by_name["guard"]["value"], by_name["guard"]["source"]) == ("long", "CALLOUT_GUARD")
    assert by_name["mute"]["source"] == str(folder / "callout.toml")


def test_a_file_to_fill_in_is_written_once_and_can_be_filled_in(tmp_path: Path) -> None:
    made = run(tmp_path, "config", "--init")
    assert made.returncode == 0, made.stderr
    file = tmp_path / "callout.toml"
    assert run(tmp_path, "config", "--init").returncode == 2
    file.write_text("\n".join(line[1:] if line.startswith("#") and " = " in line and not line.startswith("# ") else line
                              for line in file.read_text().splitlines()))  # fmt: skip
    values = {value.setting.name: value for value in config.load(file, {})}
    assert all(value.source == str(file) for value in values.values())


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("colour = 1", "no setting 'colour'"),
        ("mute = 3", "write it as mute = false"),
        ("pace = [1]", r"write it as pace = \[100, 130\]"),
        ("pace = [", "not valid TOML"),
        ("journal = 5", "write it as journal"),
    ],
)
def test_a_slip_is_one_line_that_says_what_to_write(tmp_path: Path, text: str, why: str) -> None:
    (tmp_path / "callout.toml").write_text(text)
    with pytest.raises(BadInput, match=why):
        config.load(tmp_path / "callout.toml", {})
    done = run(tmp_path, "read", "affirm")
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1


def test_a_pipe_or_a_device_is_no_file_of_settings(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "callout.toml")
    with pytest.raises(BadInput, match="not a regular file"):
        config.load(tmp_path / "callout.toml", {})


def test_nothing_is_read_from_the_current_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "callout.toml").write_text("mute = true")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("CALLOUT_CONFIG", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    assert all(value.value is None for value in config.load(environment={}))


def test_commands_run_one_after_another_in_one_process(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A program that calls several commands: the module of `callout config` must not take the settings' place."""
    monkeypatch.setenv("CALLOUT_CONFIG", str(folder / "callout.toml"))
    for words in (["config"], ["read", "affirm"], ["config"], ["read", "affirm"]):
        with pytest.raises(SystemExit) as stop:
            cli.main(words)
        assert stop.value.code == 0


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("pace = [900, 1]", "pace is [900.0, 1.0]: 900.0 is not in the range"),
        ('voice = "mara"', "voice is 'mara': 'mara' is not one of"),
        ('vox_lead = "500"', "vox_lead is '500': '500' is not a time up to 5 s"),
        ('guard = "never"', "guard is 'never'"),
        ('tones = "bells"', "tones is 'bells': there is no tone 'bells'"),
    ],
)
def test_a_value_that_its_option_refuses_is_told_by_file_and_name(tmp_path: Path, line: str, why: str) -> None:
    """By `callout config`, and by the conversation, which had blamed an option that nobody wrote."""
    file = tmp_path / "callout.toml"
    file.write_text(line + "\n")
    example = config.BY_NAME[line.split()[0]].example
    for words in (["config"], ["listen", "--typed", "--mute"]):
        done = run(tmp_path, *words)
        assert done.returncode == 2, words
        told = " ".join(done.stderr.split())
        assert f"{file}: {why}" in told, words
        assert told.endswith(f"write it as {line.split()[0]} = {example}")
        assert "--voice" not in told


def test_a_variable_that_its_option_refuses_is_told_by_its_name(tmp_path: Path) -> None:
    (tmp_path / "callout.toml").write_text("")
    done = run(tmp_path, "config", CALLOUT_VOICE="mara")
    assert done.returncode == 2
    assert "CALLOUT_VOICE is 'mara'" in done.stderr


def test_an_option_that_somebody_writes_is_still_told_as_the_option(tmp_path: Path) -> None:
    (tmp_path / "callout.toml").write_text('voice = "plain"\n')
    done = run(tmp_path, "listen", "--typed", "--voice", "mara")
    assert "--voice" in done.stderr
    assert "callout.toml" not in done.stderr


def test_a_folder_of_words_that_is_not_there_is_blamed_on_the_file_that_names_it(tmp_path: Path) -> None:
    (tmp_path / "callout.toml").write_text('team = "words"\n')
    forget(anyway=True)
    done = run(tmp_path, "read", "affirm")
    os.environ.pop("CALLOUT_TEAM", None)
    forget(anyway=True)
    assert f"team in {tmp_path / 'callout.toml'} names" in done.stderr
    assert "CALLOUT_TEAM" not in done.stderr


def test_a_path_of_windows_is_told_how_to_be_written(tmp_path: Path) -> None:
    (tmp_path / "callout.toml").write_text('stock = "C:\\Users\\yard.toml"\n')
    with pytest.raises(BadInput, match="write a path with / or in single quotes"):
        config.load(tmp_path / "callout.toml", {})
