"""A team's own words: taught phrases, words that one ear lacks, and files that are no words at all."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from callout.cli import group
from callout.errors import BadInput
from callout.hearing.vocabulary import unheard_words
from callout.language import command_rules, cribsheet, grammar, network, pronunciation
from callout.language.commands import commands
from callout.language.context import Context
from callout.language.grammar_reader import Ref, read_rules
from callout.language.outcome import NotUnderstood, Understood
from callout.language.resolve import resolve_text
from callout.values import Command
from tests.team_words import forget


def run(*arguments: str) -> Result:
    return CliRunner().invoke(group, list(arguments))


# --- taught phrases


def test_a_taught_phrase_is_understood_with_carriers_round_it_and_any_number(team: Path) -> None:
    assert isinstance(resolve_text("we are begging for two", Context(state="walk")), NotUnderstood)
    result = run("words", "--teach", "we are begging for two", "short")
    assert result.exit_code == 0
    assert "phrases.toml" in result.output
    for said, quantity in (("we are begging for two", 2), ("okay we are begging for five please", 5)):
        meaning = resolve_text(said, Context(state="walk")).meaning
        assert meaning == Command(command="short", quantity=quantity)
    assert commands()["short"].taught == ("we are begging for <1..20 grouped> {quantity}",)


def test_what_is_taught_stands_on_the_crib_sheet_and_is_marked(team: Path) -> None:
    run("words", "--teach", "jolly good", "ready")
    (line,) = (text for text in run("card").output.splitlines() if "jolly good" in text)
    assert "the same as ready (typed only)" in line


def test_a_taught_word_of_the_walk_answers_no_readback(team: Path) -> None:
    run("words", "--teach", "jolly good", "ready")
    assert isinstance(resolve_text("jolly good", Context(state="walk")), Understood)
    for state in ("confirm", "confirm_walk", "gather_walk"):
        assert not isinstance(resolve_text("jolly good", Context(state=state)), Understood)


@pytest.mark.parametrize(
    ("phrase", "command", "why"),
    [
        ("jolly good", "affirm", "a yes cannot be taught"), ("short two", "ready", "means short already"),
        ("roger", "ready", "means roger already"), ("short two", "short", "understood as short already"),
        ("insertion eleven feet sixty", "ready", "means a callout already"), ("evacuate", "stop", "means evacuate"),
        ("jolly good", "sing", "no command 'sing'"), ("x", "ready", "three letters"), ("", "ready", "no words"),
        ("gut \u4f60", "ready", "cannot be taught"), ("two and six of these", "short", "two numbers"),
        ("jolly two", "hold", "takes no number"), ("jolly two", "ready", "could be the quantity or the item"),
        ("jolly two", "move", "could be the quantity or the build"), ("digits", "digits", "no command 'digits'"),
    ],
)  # fmt: skip
def test_what_cannot_be_taught_is_told_and_nothing_is_written(team: Path, phrase: str, command: str, why: str) -> None:
    result = run("words", "--teach", phrase, command)
    assert isinstance(result.exception, BadInput)
    assert result.exception.exit_code == 2
    assert why in str(result.exception)
    assert not (team / "phrases.toml").exists()


@pytest.fixture
def no_folder_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The user's folder for settings, which is not there yet."""
    monkeypatch.delenv("CALLOUT_TEAM", raising=False)
    monkeypatch.setenv("CALLOUT_CONFIG", str(tmp_path / "settings" / "callout.toml"))
    forget()
    yield tmp_path / "settings"
    monkeypatch.undo()
    forget()


def test_where_no_folder_is_named_words_lie_beside_the_settings(no_folder_named: Path) -> None:
    assert run("words", "--teach", "jolly good", "ready").exit_code == 0
    assert (no_folder_named / "words" / "phrases.toml").read_text(encoding="utf-8").endswith('ready = ["jolly good"]\n')
    result = resolve_text("jolly good", Context("walk"))
    assert isinstance(result, Understood)
    assert result.meaning == Command(command="ready")


def test_a_folder_for_settings_that_cannot_be_written_is_told(no_folder_named: Path) -> None:
    no_folder_named.write_text("a file where the folder should be")
    result = run("words", "--teach", "jolly good", "ready")
    assert isinstance(result.exception, BadInput)
    assert "make the folder writable" in str(result.exception)


# --- a word that one ear lacks


def test_a_word_that_one_ear_lacks_is_named_with_what_mends_it(team: Path) -> None:
    (team / "own.grammar").write_text("<walk> |= stowed {command ready} ;\n", "utf-8")
    forget()
    assert unheard_words() == ("stowed",)
    result = run("words", "--check")
    assert result.exit_code == 1
    assert '"stowed" is not known to one ear: with it, what moves something is typed; to mend: type it' in result.output


def test_check_names_it_too(team: Path) -> None:
    from callout.session.readiness import PROBES

    probe = next(probe for name, _, probe, _ in PROBES if name == "a team's words")
    assert probe() == "both ears know them all"
    (team / "own.grammar").write_text("<walk> |= stowed {command ready} ;\n", "utf-8")
    forget()
    with pytest.raises(Exception, match="what moves something with them is typed: stowed"):
        probe()


def test_the_words_we_ship_are_known_to_both_ears() -> None:
    assert unheard_words() == ()
    assert cribsheet.sound_faults() == []


# --- from typed to spoken: a line of a row is moved


def test_a_spoken_line_is_searched_by_the_ears_and_checked_by_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    from dataclasses import replace
    from types import MappingProxyType

    assert "mundane" not in grammar.load().words()
    rows = {**commands(), "back": replace(commands()["back"], spoken=("mundane", "go back [<it>]", "bait"))}
    monkeypatch.setattr(command_rules, "commands", lambda: MappingProxyType(rows))
    forget(anyway=True)
    try:
        words = grammar.load().words()
        assert {"mundane", "go"} <= set(words)
        assert "them" in words  # <it> of everyday.grammar came with it
        assert "minutes" not in words  # and nothing else did
        assert any('"bait" and "eight" sound too much alike' in fault for fault in cribsheet.sound_faults())
    finally:
        monkeypatch.undo()
        forget(anyway=True)


def test_typed_lines_add_no_word_to_what_the_ears_search() -> None:
    heard, typed = set(grammar.load().words()), set(grammar.load().words(wide=True))
    assert len(typed - heard) > 100
    assert not any(row.spoken for row in commands().values()) or heard <= typed


# --- files that are no words


def _fifo(place: Path) -> None:
    os.mkfifo(place)


def _device(place: Path) -> None:
    place.symlink_to("/dev/zero")


HOSTILE: list[tuple[str, Callable[[Path], object], str]] = [
    ("own.grammar", _fifo, "no plain file"),
    ("parts.toml", _fifo, "no plain file"),
    ("phrases.toml", _device, "no plain file"),
    ("pronunciations.dict", lambda place: place.mkdir(), "no plain file"),
    ("own.grammar", lambda place: place.symlink_to("nowhere"), "cannot read own.grammar"),
    ("own.grammar", lambda place: place.write_bytes(b"# caf\xe9\n"), "line 1: not UTF-8"),
    ("phrases.toml", lambda place: place.write_bytes(b'\n\nshort = ["caf\xe9"]'), "line 3: not UTF-8"),
    ("parts.toml", lambda place: place.write_text("# large\n" * 50_000), "larger than 200,000 bytes"),
    ("own.grammar", lambda place: place.write_text(f"<kind> |= {'(' * 9000}a{')' * 9000} ;"), "brackets within"),
    ("parts.toml", lambda place: place.write_text("a = " + "[" * 9000), "parts.toml"),
    ("own.grammar", lambda place: place.write_text("<kind> |= <0..99999999> {kind raker} ;"), "too large"),
    ("own.grammar", lambda place: place.write_text("<kind> |= <0..9" + "9" * 5000 + "> {kind raker} ;"), "too large"),
    ("phrases.toml", lambda place: place.write_text('short = ["we lack (two"]'), "cannot be read"),
    ("phrases.toml", lambda place: place.write_text('short = ["a ; <b> = c"]'), "without a semicolon"),
    ("phrases.toml", lambda place: place.write_text('short = ["we lack {nothing}"]'), "not known"),
    ("phrases.toml", lambda place: place.write_text('short = ["we lack <nothing>"]'), "nowhere written"),
    ("phrases.toml", lambda place: place.write_text('short = "we beg"'), 'write short = \\["a phrase"'),
    ("phrases.toml", lambda place: place.write_text('sing = ["la la la"]'), "no command 'sing'"),
    ("phrases.toml", lambda place: place.write_text('digits = ["la la la"]'), "no command 'digits'"),
    ("phrases.toml", lambda place: place.write_text('affirm = ["jolly good"]'), "a yes cannot be taught"),
    ("notes.txt", lambda place: place.write_text("not words"), "holds no words of a team"),
]


@pytest.mark.parametrize(("name", "make", "why"), HOSTILE)
def test_a_file_that_is_no_words_ends_in_one_line_and_exit_code_2(
    team: Path, name: str, make: Callable[[Path], object], why: str
) -> None:
    def read_all() -> None:
        grammar.load().network()
        pronunciation.prons("affirm")

    make(team / name)
    forget()
    with pytest.raises(BadInput, match=why) as told:
        read_all()
    assert told.value.exit_code == 2
    assert "\n" not in str(told.value)


@pytest.mark.parametrize("loop", ["and <loop>", "{command ready} <loop> | x", "and [<loop>]"])
def test_a_team_rule_that_contains_itself_is_told_each_time_that_the_language_is_asked_for(
    team: Path, loop: str
) -> None:
    (team / "own.grammar").write_text(f"<walk> |= round <loop> ;\n<loop> = {loop} ;\n", "utf-8")
    forget()
    for _ in range(2):
        with pytest.raises(BadInput, match="<loop> contains itself"):
            grammar.load()


def test_a_network_beside_a_rule_that_contains_itself_is_whole(tmp_path: Path) -> None:
    file = tmp_path / "own.grammar"
    file.write_text("<walk> = round <loop> ;\n<loop> = and <loop> ;\n<digits> = (six | seven)+ ;\n", "utf-8")
    digits = network.Network(read_rules([file]), Ref("digits"))
    for _ in range(2):
        with pytest.raises(BadInput, match="<loop> contains itself"):
            digits.beside(Ref("walk"))
    assert list(digits.leads(digits.start)) == ["six", "seven"]


@pytest.mark.parametrize("again", ["[{command ready}]*", "([now] {command ready})+", "<nothing>*"])
def test_a_team_rule_that_repeats_a_mark_without_a_word_is_told(team: Path, again: str) -> None:
    (team / "own.grammar").write_text(f"<walk> |= round {again} x ;\n<nothing> = {{command ready}} [then] ;\n", "utf-8")
    forget()
    with pytest.raises(BadInput, match="no word comes with"):
        grammar.load()


def test_team_rules_that_double_one_another_are_told_before_they_fill_the_memory(
    team: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(network, "_MOST_STATES", 60_000)  # twice what ours has
    doubled = [f"<r{i + 1}> = [and <r{i}>] then <r{i}> ;\n" for i in range(16)]
    (team / "own.grammar").write_text(f"<walk> |= round <r16> ;\n<r0> = x ;\n{''.join(doubled)}", "utf-8")
    forget()
    with pytest.raises(BadInput, match="grows too large"):
        grammar.load()


@pytest.mark.parametrize("named", ["/usr", "/dev/zero", "x" * 5000, "a\x01b"])
def test_a_team_folder_that_is_none_ends_in_one_line(named: str) -> None:
    line = [sys.executable, "-m", "callout", "read", "affirm"]
    told = subprocess.run(line, env={**os.environ, "CALLOUT_TEAM": named}, capture_output=True, text=True, timeout=60)
    assert told.returncode == 2
    assert told.stderr.startswith("callout: CALLOUT_TEAM names")
    assert told.stderr.count("\n") == 1


# --- what is typed


@pytest.mark.parametrize("digits", ["7" * 31, "9" * 4301, "9" * 9000, "1." + "9" * 5000, "\u0663" * 5000])
def test_a_number_of_thousands_of_digits_is_refused_with_a_reason(digits: str) -> None:
    result = resolve_text(f"insertion {digits} feet sixty")
    assert isinstance(result, NotUnderstood)
    assert "digits is no measure" in result.reasons[0]


# --- the card on paper


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_card_prints_on_one_page(paper: str, tmp_path: Path) -> None:
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if browser is None:
        pytest.skip("no Chromium here to print with")
    page = tmp_path / "card.html"
    assert run("card", "--html", str(page)).exit_code == 0
    text = page.read_text("utf-8")
    page.write_text(text.replace("@page { ", f"@page {{ size: {paper}; "), "utf-8")
    out = tmp_path / "card.pdf"
    subprocess.run(
        [browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", f"--print-to-pdf={out}",
         f"--user-data-dir={tmp_path / 'profile'}", page.as_uri()],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    pages = re.findall(rb"/Type\s*/Page[^s]", out.read_bytes())
    assert len(pages) == 1


def test_the_card_begins_with_the_stop_words_and_has_help() -> None:
    first = cribsheet.sections()[0]
    said = [line.say for line in first.lines]
    assert said[:3] == ["stop", "evacuate", "cease operations"]
    assert "help" in said


def test_every_command_with_a_line_is_on_the_card_once() -> None:
    said = [line.say for section in cribsheet.sections() for line in section.lines]
    assert len(said) == len(set(said))
    for row in commands().values():
        assert row.card is None or row.card[0] in said or row.name == "site_curb_at", row.name
