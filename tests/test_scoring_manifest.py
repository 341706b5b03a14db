"""The list of recordings: what it may look like, and what is said about one that cannot be read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from callout.errors import BadInput
from callout.files import data_folder
from callout.scoring.manifest import find_manifest, read_manifest, survey, write_template
from callout.values import Length


def written(folder: Path, text: str, name: str = "manifest.jsonl") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_file_and_words_are_enough(tmp_path: Path) -> None:
    (entry,) = read_manifest(written(tmp_path, '{"file": "a.wav", "words": "Insertion  eleven feet sixty"}\n'))
    assert (entry.file, entry.words, entry.given) == ("a.wav", "insertion eleven feet sixty", False)


def test_a_part_of_a_meaning_is_enough(tmp_path: Path) -> None:
    line = '{"file": "a", "words": "x", "meaning": {"insertion": {"eightieths_mm": 268224}, "angle_deg": 60}}'
    (entry,) = read_manifest(written(tmp_path, line))
    assert entry.given
    assert entry.meaning is not None
    assert entry.meaning["insertion"] == Length.imperial(11).to_json()
    assert entry.meaning["kind"] == "raker"


@pytest.mark.parametrize(
    "line", ['{"file": "a", "words": ""}', '{"file": "a", "words": "hello there", "meaning": null}']
)
def test_no_words_or_no_meaning_marks_a_recording_without_callout(tmp_path: Path, line: str) -> None:
    (entry,) = read_manifest(written(tmp_path, line))
    assert (entry.given, entry.meaning) == (True, None)


def test_a_table_says_the_same(tmp_path: Path) -> None:
    text = (
        "file,words,meaning,speaker,channel,noise\n"
        'a.wav,affirm,"{""command"": ""affirm""}",Kim,handheld,yard\n'
        "b.wav,insertion six feet sixty,,Sam,,\n"
        "c.wav,never mind,null,Sam,,\n"
    )
    first, second, third = read_manifest(written(tmp_path, "\ufeff" + text, "manifest.csv"))
    assert first.meaning is not None
    assert first.meaning["command"] == "affirm"
    assert (first.speaker, first.channel, first.noise) == ("Kim", "handheld", "yard")
    assert (second.given, third.given, third.meaning) == (False, True, None)
    assert [e.index for e in (first, second, third)] == [0, 1, 2]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "lists no recordings"),
        ("{oops\n", "line 1: not JSON"),
        ('{"file": "a", "words": "x"}\n[1]\n', "line 2: must be an object"),
        ('{"file": "a"}', "line 1: 'words' is missing"),
        ('{"words": "a"}', "line 1: 'file' is missing"),
        ('{"file": "", "words": "a"}', "'file' is empty"),
        ('{"file": "a", "words": "x", "meaning": {"angle": 3}}', "no callout and no command"),
        ('{"file": "a", "words": "x", "meaning": "sixty"}', "no callout and no command"),
        ('{"file": "a", "words": "x", "meaning": {}}', "'meaning' is empty"),
        ('{"file": "a", "words": "x", "meaning": {"command": "afirm"}}', "1: no command is called 'afirm'.*affirm"),
        ("[" * 100_000, "line 1: not JSON"),
        ('{"file": "a\\ud800", "words": "x"}', "half a letter"),
        ('{"file": "a", "words": "x", "speaker": "\\udfff"}', "half a letter"),
    ],
)
def test_a_line_that_is_no_recording_is_named(tmp_path: Path, text: str, what: str) -> None:
    with pytest.raises(BadInput, match=what):
        list(read_manifest(written(tmp_path, text)))


def test_every_command_of_the_language_may_be_meant(tmp_path: Path) -> None:
    """The names as they stand in the grammar files: {command NAME}."""
    grammars = data_folder("grammars").glob("*.grammar")
    names = {name for file in grammars for name in re.findall(r"{command (\w+)}", file.read_text("utf-8"))}
    assert {"affirm", "digits", "stock_out"} <= names
    lines = [f'{{"file": "a", "words": "x", "meaning": {{"command": "{name}"}}}}' for name in sorted(names)]
    assert len(list(read_manifest(written(tmp_path, "\n".join(lines))))) == len(names)


def test_a_table_that_is_not_text(tmp_path: Path) -> None:
    (tmp_path / "manifest.jsonl").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadInput, match="not UTF-8"):
        list(read_manifest(tmp_path / "manifest.jsonl"))


def test_a_table_with_a_cell_that_is_no_cell(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="not a table"):
        list(read_manifest(written(tmp_path, "file,words\na.wav," + "x" * 200_000, "manifest.csv")))


def test_the_template_is_a_manifest_and_never_overwrites(tmp_path: Path) -> None:
    path = write_template(tmp_path / "new")
    assert find_manifest(tmp_path / "new") == path
    count, digest = survey(path)
    assert count == 5
    assert len(digest) == 64
    with pytest.raises(BadInput, match="already there"):
        write_template(tmp_path / "new")


def test_a_folder_without_manifest_says_how_to_start(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="callout score --init"):
        find_manifest(tmp_path)
    with pytest.raises(BadInput, match="no such folder"):
        find_manifest(tmp_path / "nowhere")
