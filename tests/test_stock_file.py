"""A stock file: what it may say, and the one clear line for each thing that it may not."""

import contextlib
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from callout.errors import BadInput
from callout.shoring.stock import PACKAGED, Adjustable, Stock, load_stock, parse_stock
from callout.values import Length

GOOD = """
name = "A small yard"
kerf = "1/8 in"
[kit]
plate_length = "4 ft"
plate_first_hole = "4 in"
plate_hole_spacing = "3 in"
plate_thickness = "1 in"
head_takes = "5 in"
base_takes = "4 in"
brace_takes = "1 in"
clamp_takes = "5 in"
slack_in = "2 in"
slack_out = "3 in"
waler_gap = "6 in"

[[adjustable]]
name = "six foot strut"
family = "strut"
closed = "6 ft"
open = "10 ft"
step = "6 in"
screw = "2 ft"
quantity = 4
where = "rack B"
weight_lb = 29

[[piece]]
name = "picket"
part = "picket"
quantity = 12
where = "rack G"
weight_lb = 8
"""

#: (what is written instead, by what; what the line must say)
MISTAKES = [
    ("quantity = 4", "quantity = -2", "line 17 (six foot strut): quantity is -2; write 0 or more"),
    ("quantity = 4", "quantity = 2.5", "line 17 (six foot strut): quantity is 2.5"),
    ("quantity = 4", 'quantity = "four"', "line 17 (six foot strut): quantity is 'four'"),
    ("quantity = 4", "quantity = 99999999999", "quantity is 99999999999"),
    ("quantity = 4", "quantity = 4\ncolour = 'red'", "line 17 (six foot strut): unknown field 'colour'"),
    ("kerf", "saw", "unknown field 'saw'"),
    ('name = "picket"', 'name = "six foot strut"', "'six foot strut' stands there twice"),
    ('name = "picket"', 'name = "Six Foot Strut"', "stands there twice"),
    ("quantity = 4", "quantity = 4\nquantity = 5", "line 25: not valid TOML (Cannot overwrite a value)"),
    ("quantity = 4", "quantity = four", "line 24: not valid TOML"),
    ("[[piece]]", "[[piece]", "line 28: not valid TOML"),
    ('where = "rack B"', "", "line 17 (six foot strut): 'where' is missing; add it"),
    ('name = "A small yard"', "", "'name' is missing; add it"),
    ('closed = "6 ft"', 'closed = "six"', "closed: 'six' is not a length; write it like 11 ft 6 1/2 in, or 3.35 m"),
    ('closed = "6 ft"', 'closed = "-6 ft"', "closed is -6 ft; write a length from 0"),
    ('closed = "6 ft"', 'closed = "10 ft"', "open must be longer than closed"),
    ('closed = "6 ft"', 'closed = "0 in"', "the length is zero"),
    ('screw = "2 ft"', 'screw = "5 ft"', "screw must be over zero and at most what lies between"),
    ('step = "6 in"', "", "without locks (step) the screw must give all"),
    ('step = "6 in"', 'step = "1 mm"', "step gives over 500 locks; write the distance between two"),
    ('kerf = "1/8 in"', 'kerf = "9 ft"', "kerf is 9 ft; write what the saw eats"),
    ("weight_lb = 29", "weight_lb = -1", "weight_lb is -1"),
    ("weight_lb = 29", "weight_lb = nan", "weight_lb is nan"),
    ("[kit]", "[kitt]", "'kit' is missing; add it"),
    ('slack_in = "2 in"', "", "'kit.slack_in' is missing; add it"),
    ('name = "picket"', 'name = ""', "name is ''"),
]


@pytest.mark.parametrize(("old", "new", "says"), MISTAKES, ids=[new or f"no {old}" for old, new, _ in MISTAKES])
def test_each_mistake_has_one_clear_line(old: str, new: str, says: str) -> None:
    assert old in GOOD
    with pytest.raises(BadInput) as wrong:
        parse_stock(GOOD.replace(old, new, 1), "yard.toml")
    lines = str(wrong.value).splitlines()
    assert any(says in line for line in lines), lines
    assert all(line.startswith("yard.toml") and len(line) < 300 for line in lines)
    assert wrong.value.exit_code == 2


def test_the_good_one_is_read() -> None:
    stock = parse_stock(GOOD)
    (strut,) = stock.adjustable
    assert isinstance(strut, Adjustable)
    assert strut.kind == "strut"
    assert strut.size == Length.imperial(6)
    assert [lock.text for lock in strut.locks] == ["6 ft", "6 ft 6 in", "7 ft", "7 ft 6 in", "8 ft"]
    assert Stock.model_validate_json(stock.model_dump_json()) == stock


def test_many_mistakes_are_all_named_up_to_eight() -> None:
    line = '\n[[piece]]\nname = "p{}"\npart = "p"\nquantity = -1\nwhere = "x"\nweight_lb = 1\n'
    bad = GOOD + "".join(line.format(number) for number in range(20))
    with pytest.raises(BadInput) as wrong:
        parse_stock(bad, "yard.toml")
    lines = str(wrong.value).splitlines()
    assert len(lines) == 9
    assert lines[-1] == "yard.toml: and 12 more mistakes"


#: What the library that reads says of its own ways, and no rescuer does.
ITS_WORDS = re.compile(r"instance|valid|dictionary|tuple|function|\[<|Input|input|_type")


@pytest.mark.parametrize("value", ["3", '"x"', "true", "1.5", "[1]", '{a = "b"}', "2020-01-01"])
def test_a_value_of_the_wrong_kind_is_told_in_plain_words_and_once(
    value: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every line of a good file in turn: a field that takes it stays good; else one line says what to write."""
    monkeypatch.setattr("callout.shoring.stock.MOST_SHOWN", 100)
    for number, line in enumerate(GOOD.splitlines()):
        name = line.partition("=")[0].strip()
        if "=" not in line or not name.isidentifier():
            continue
        lines = GOOD.splitlines()
        lines[number] = f"{name} = {value}"
        try:
            parse_stock("\n".join(lines), "yard.toml")
        except BadInput as wrong:
            told = str(wrong).splitlines()
            assert not [one for one in told if ITS_WORDS.search(one)], told
            assert len([one for one in told if re.search(rf"\b{name}\b", one)]) <= 1, told


def test_more_lines_than_a_yard_has_are_refused() -> None:
    line = '\n[[extension]]\nname = "e{}"\nfits = ["strut"]\nlength = "1 ft"\nquantity = 1\nwhere = "x"\n'
    line += "weight_lb = 1\n"
    with pytest.raises(BadInput, match="61 lines of extension, at most 60 can be used; leave some out"):
        parse_stock(GOOD + "".join(line.format(number) for number in range(61)))


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"  \n\n", "empty"),
        (b"\xff\xfe\x00name", "not UTF-8 text"),
        (b"name = 'x'\nkerf = \xe9", "line 2: not UTF-8 text"),
        (b"\x00\x01\x02", "not valid TOML"),
        ("🏚" * 2000, "not valid TOML"),
        (b"[" * 100_000, "not valid TOML"),
        (b"a=1\n" * 300_000, "too large for a stock"),
        (b"{'json': 1}", "not valid TOML"),
        (b"adjustable = 3\nname='x'", "adjustable is 3"),
        (b"piece = ['a', 'b']\nname='x'", "piece"),
        (b"piece = [[1]]\nname='x'", "piece"),
    ],
)
def test_what_is_no_stock_file_is_refused_in_a_line(tmp_path: Path, content: bytes | str, says: str) -> None:
    file = tmp_path / "stock.toml"
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(BadInput, match=says.replace("(", r"\(")):
        load_stock(file)


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no such stock file; check the name"):
        load_stock(tmp_path / "none.toml")
    with pytest.raises(BadInput, match="a folder, not a stock file"):
        load_stock(tmp_path)
    with pytest.raises(BadInput, match="cannot be read"):
        load_stock("a\0b")


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=200))
def test_no_text_at_all_gives_a_traceback(text: str) -> None:
    for candidate in (text, GOOD + text, GOOD.replace("rack", text, 1)):
        with contextlib.suppress(BadInput):  # any other exception fails the test
            assert isinstance(parse_stock(candidate), Stock)


def test_the_packaged_stock_is_invented_and_sound() -> None:
    stock = load_stock()
    assert "invented" in PACKAGED.read_text(encoding="utf-8").splitlines()[0].lower()
    families = {line.family for line in stock.adjustable}
    assert families == {"strut", "brace", "lateral", "diagonal"}
    assert all(line.quantity > 0 for line in stock.lines)
    for line in stock.adjustable:
        setting_gaps = [b - a for a, b in zip(line.locks, list(line.locks)[1:], strict=False)]
        assert all(gap <= line.screw for gap in setting_gaps)  # no length between locks is out of the screw's reach
