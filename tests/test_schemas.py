"""What the commands print is what `callout schema` says, checked by jsonschema, a validator of others."""

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

import callout
from callout.files import tomllib
from callout.journal import Journal
from callout.schemas import MODELS, schema_of
from callout.values import Callout, Command
from callout.values.sights import Looked, MarkReading, Seen
from tests.dialogue_kit import ELEVEN_SIXTY, Talk, ft, make_stock
from tests.here import run_here


def valid(name, shape):
    jsonschema.Draft202012Validator(schema_of(name)).validate(shape)


def printed(*arguments, text=""):
    return [json.loads(line) for line in run_here(*arguments, text=text).stdout.splitlines()]


@pytest.mark.parametrize("name", MODELS)
def test_every_schema_is_a_schema(name):
    jsonschema.Draft202012Validator.check_schema(schema_of(name))
    assert schema_of(name)["title"] == f"callout {name}"


@pytest.mark.parametrize(
    ("command", "name"),
    [("hear", "heard"), ("read", "heard"), ("listen", "event"), ("demo", "event"), ("words", "word")],
)
def test_a_command_is_a_name_for_the_schema_of_its_lines(command, name):
    from callout.cli.schema import schema

    given = CliRunner().invoke(schema, [command, "--json"])
    assert given.exit_code == 0
    assert json.loads(given.output) == schema_of(name)


@pytest.mark.parametrize(
    ("name", "shape"),
    [
        ("heard", {"file": None, "outcome": "understood"}),
        ("meaning", {"command": 3}),
        ("meaning", {"command": "affirm"}),
        ("event", {"event": "exploded"}),
        ("plan", {"build": {}}),
        ("stock", {"name": "yard", "adjustable": [{"name": "strut", "quantity": -1}]}),
        ("check", {"ready": "yes", "findings": []}),
        ("score", {}),
        ("verify", {"ok": True, "lines": 1, "problem": None, "more": 1}),
    ],
)
def test_a_schema_refuses_what_is_wrong(name, shape):
    with pytest.raises(jsonschema.ValidationError):
        valid(name, shape)


def test_read():
    said = ["insertion eleven feet sixty", "", "affirm", "what a day", "correction, angle four five"]
    lines = printed("read", "-", "--json", text="\n".join(said) + "\n")
    assert len(lines) == len(said)
    for line in lines:
        valid("heard", line)
        if line["meaning"] is not None:
            valid("meaning", line["meaning"])


@pytest.mark.parametrize(
    "words", ["--insertion 11ft --angle 60", "--insertion 40ft --angle 60", "--insertion 8ft --angle 45 --sole solid"]
)
def test_plan(words):
    (shape,) = printed("plan", *words.split(), "--json")
    valid("plan", shape)


def test_listen_log_verify_merge_and_handover(tmp_path):
    talk = Talk.new(make_stock()).released(ELEVEN_SIXTY)
    talk.key("ready")
    talk.say(Callout(insertion=ft(8), angle_deg=45, position=2))
    talk.say("evacuate")
    for name in ("one", "two"):
        with Journal.open(tmp_path / name) as journal:
            for record in talk.records:
                written = journal.append(record)
                valid("event", written.to_json())
    for line in printed("log", tmp_path / "one", "--json"):
        valid("event", line)
    for name, options in {
        "verify": ["--verify"], "handover": ["--handover"], "merge": ["--merge", tmp_path / "two"],
    }.items():  # fmt: skip
        (shape,) = printed("log", tmp_path / "one", *options, "--json")
        valid(name, shape)


def test_handover_and_inspect_with_a_size_up_and_a_look_that_nobody_signed_yet(tmp_path):
    talk = Talk.new(make_stock()).released(ELEVEN_SIXTY).stand()
    crack = MarkReading(mark="a", kind="crack", value=ft(0, 1))
    talk.say(Command(command="look", look=Looked(readings=(crack,), tight=True, signed="team two")))
    talk.say(Command(command="look", look=Looked(readings=(crack,))))
    talk.say(Command(command="size_up", seen=Seen(wall_length=ft(40), wall_height=ft(12), damage_height=ft(9))))
    talk.say("work_out").say("take_it")
    with Journal.open(tmp_path / "day") as journal:
        for record in talk.records:
            valid("event", journal.append(record).to_json())
    (sheet,) = printed("log", tmp_path / "day", "--handover", "--json")
    valid("handover", sheet)
    assert len(sheet["size_ups"]) == 1
    assert sheet["aftercare"][0]["not_signed"]
    (shape,) = printed("inspect", tmp_path / "day", "--json")
    valid("inspect", shape)
    assert shape["inspect"]["shores"][0]["not_signed"]


def test_listen_typed(tmp_path):
    """By a start of the program, whose output goes through a pipe."""
    text = "insertion eleven feet sixty\naffirm\nready\nwhere\n"
    words = [sys.executable, "-m", "callout", "listen", "--typed", "--mute", "--json"]
    done = subprocess.run(words, input=text, capture_output=True, text=True, timeout=120)
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert {"heard", "readback", "released", "picked"} <= {line["event"] for line in lines}
    for line in lines:
        valid("event", line)


def test_the_packaged_stock_is_what_the_schema_of_a_stock_describes():
    text = (Path(callout.__file__).parent / "shoring" / "stocks" / "demo.toml").read_text()
    valid("stock", tomllib.loads(text))


def test_the_list_and_an_unknown_name():
    from callout.cli.schema import schema
    from callout.errors import BadInput

    listed = CliRunner().invoke(schema, [], catch_exceptions=False).stdout
    assert [line.split()[0] for line in listed.splitlines()] == list(MODELS)
    with pytest.raises(BadInput, match="there are: heard, meaning"):
        CliRunner().invoke(schema, ["moon"], catch_exceptions=False, standalone_mode=False)


def test_check():
    from callout.session.readiness import check as run_checks

    valid("check", run_checks().model_dump(mode="json"))


def test_score():
    from callout.scoring.report import build_report
    from callout.scoring.statistics import Tally

    valid("score", {**build_report(Tally(), {"conditions": []}), "files": []})
