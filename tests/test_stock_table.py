"""A yard's table as spreadsheets of several countries save it: what is certain is taken, what is not is told by its
line, all of it at once. And the names that a shore takes."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import pytest
from click.testing import CliRunner

from callout.cli.stock import stock as command
from callout.errors import BadInput, Mistakes
from callout.language.speak import KIND_WORDS
from callout.session.stock_report import stock_report
from callout.shoring.allocation import CutNeed, Need, PieceNeed, SpanNeed
from callout.shoring.holdings import Holdings
from callout.shoring.kit import SAYS, Kit
from callout.shoring.not_taken import no_shore_takes
from callout.shoring.plan import ShorePlanner
from callout.shoring.request import Site
from callout.shoring.stock import Stock, load_stock, parse_stock
from callout.shoring.stock_start import stock_text
from callout.shoring.stock_table import read_table, table_text
from callout.shoring.taken_parts import COUPLERS, EXTENSIONS, FAMILIES, PIECES, SECTIONS, known_part, variants_of
from callout.shoring.work_out import needs_of
from callout.values import Callout, Length
from tests.test_cli_stock import filled_in

HEAD = "what,length,open,quantity,where,weight_lb,section,variant,name\n"
PAGE = (Path(__file__).parent.parent / "docs" / "stock.md").read_text("utf-8")


def stock_of(table: str) -> Stock:
    return parse_stock(filled_in(stock_text("yard", read_table(table, "yard.csv"), "yard.csv")))


def told(table: str) -> tuple[str, ...]:
    with pytest.raises(Mistakes) as wrong:
        stock_text("yard", read_table(table, "yard.csv"), "yard.csv")
    return wrong.value.lines


EUROPEAN = """What;Length;Open;Quantity;Where;Weight lb;Section;Variant;Name
strut;1,80 m;2,70 m;8.0;Regal S\u00fcd;29,5;;;
"""


@pytest.mark.parametrize("between", [";", "\t"])
@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "latin-1", "cp1252", "utf-16", "utf-16-le", "utf-16-be"])
def test_a_european_spreadsheet_is_read(coding: str, between: str, tmp_path: Path) -> None:
    raw = EUROPEAN.replace(";", between).replace("\n", "\r\n").encode(coding)
    line = stock_of(table_text(raw, "yard.csv")).lines[0]
    assert (line.name, line.size, line.quantity, line.weight_lb, line.where) == (
        "strut, 1.80 m", Length.mm(1800), 8, 29.5, "Regal S\u00fcd"
    )  # fmt: skip
    (tmp_path / "yard.csv").write_bytes(raw)
    done = CliRunner().invoke(
        command, ["--init", "--from", str(tmp_path / "yard.csv"), str(tmp_path / "yard.toml")], standalone_mode=False
    )
    assert done.exception is None
    assert 'closed = "1.80 m"' in (tmp_path / "yard.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("written", "length"),
    [("6'", Length.imperial(6)), ("6 feet", Length.imperial(6)), ("5' 6\"\"", Length.imperial(5, 6)),
     ("5'-6\"\"", Length.imperial(5, 6)), ("6.5 ft", Length.imperial(6, 6)), ("20\"\"", Length.imperial(0, 20)),
     ("8.0 FT", Length.imperial(8)), ("1.80M", Length.mm(1800)), ("60 cm", Length.mm(600))],
)  # fmt: skip
def test_a_length_may_be_written_as_people_write_it(written: str, length: Length) -> None:
    assert stock_of(f'{HEAD}rope,"{written}",,2,truck,5,,,\n').lines[0].size == length


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ('strut,"1,80 m",2.7 m,8,bay,29,,,', "length: '1,80' has a comma; write it with a point: 1.80"),
        ("strut,1,80 m,2.7 m,8,bay,29,,,", "more fields than the head line has columns; a decimal has a point"),
        ('nail,,,"5,000",crate,0.1,,16d,', "quantity: '5,000' may be a decimal or thousands; write 5000"),
        ("nail,,,5.000,crate,0.1,,16d,", "quantity is '5.000'; write a whole quantity"),
        ("strut,6 ft,9 ft,,bay,29,,,", "quantity is empty"),
        ("strut,6 ft,9 ft,-3,bay,29,,,", "quantity is '-3'"),
        ("strut,6 ft,9 ft,8.5,bay,29,,,", "quantity is '8.5'"),
        ("strut,6 ft,9 ft,8 pcs,bay,29,,,", "quantity is '8 pcs'"),
        ("strut,6 ft,9 ft,8,bay,nan,,,", "weight_lb is 'nan'"),
        ("strut,6 ft,9 ft,8,bay,inf,,,", "weight_lb is 'inf'"),
        ("strut,6 ft,9 ft,8,bay,1e9,,,", "weight_lb is '1e9'"),
        ("strut,6 ft,9 ft,8,bay,-2,,,", "weight_lb is '-2'"),
        ("strut,6 ft,9 ft,8,bay,20 kg,,,", "weight_lb is '20 kg'; write the pounds"),
        ("strut,6 ft,6 ft,8,bay,29,,,", "open must be longer than closed"),
        ("strut,6 ft,5 ft,8,bay,29,,,", "open must be longer than closed"),
        ("strut,6 ft,,8,bay,29,,,", "open is empty"),
        ("strut,-6 ft,9 ft,8,bay,29,,,", "length is -6 ft; write a length over zero"),
        ("strut,1 80 m,2.7 m,8,bay,29,,,", "length: '1 80 m' is not a length"),  # not 81 m
        ("strut,8.0,9 ft,8,bay,29,,,", "length: '8.0' is not a length"),
        ("strut,6 ft,9 ft,8,,29,,,", "where is empty"),
    ],
)
def test_what_is_no_number_for_certain_is_told(row: str, why: str) -> None:
    lines = told(HEAD + row + "\n")
    assert len(lines) == 1, lines
    assert lines[0].startswith("yard.csv, line 2: ")
    assert why in lines[0]


@pytest.mark.parametrize("cell", ["1.800 m", "1,800 m", "1.234,5 m", "1,234.5 m"])
def test_three_figures_after_a_sign_may_be_thousands(cell: str) -> None:
    lines = told(HEAD.replace(",", ";") + f"rope;{cell};;2;truck;5;;;\n")
    assert "may be a decimal or thousands" in lines[0]
    assert stock_of(HEAD.replace(",", ";") + "rope;0,125 m;;2;truck;5;;;\n").lines[0].size == Length.mm(125)


def test_all_mistakes_are_told_at_once_each_with_its_line() -> None:
    rows = "strut,six,9 ft,8,rack B,29,,,\n\ntimber,16 ft,,many,,44,,,\n,,,,yard,,,,\nstrut,6 ft,9 ft,8,b,1,,,a,b,c\n"
    assert [line.split(": ", 1)[0] + ": " + line.split(": ", 1)[1][:9] for line in told(HEAD + rows)] == [
        "yard.csv, line 2: length: '", "yard.csv, line 4: quantity ", "yard.csv, line 4: section i",
        "yard.csv, line 4: where is ", "yard.csv, line 5: what is i", "yard.csv, line 6: more fiel",
    ]  # fmt: skip


def test_two_lines_that_are_alike_are_told_and_get_no_number() -> None:
    rows = "strut,8 ft,13 ft,8,rack B,46,,,eight foot strut\nstrut,8 ft,13 ft,4,rack C,46,,,Eight Foot Strut\n"
    assert told(HEAD + rows) == (
        "yard.csv, lines 2 and 3: two lines are alike: Eight Foot Strut; join them, or give each a name of its own",
    )


def test_a_head_line_names_all_its_odd_columns() -> None:
    with pytest.raises(BadInput, match=r"no column 'colour', 'weight \(kg\)'; a weight is in pounds a piece"):
        read_table("what,colour,weight (kg)\nstrut,red,3\n", "yard.csv")
    with pytest.raises(BadInput, match="length stands there twice"):
        read_table("what,length,Length\n", "yard.csv")


@pytest.mark.parametrize(
    ("row", "table", "kind"),
    [
        ("Struts,6 ft,9 ft,8,bay,29,,,", "adjustable", "strut"),
        ("mid braces,20 in,30 in,8,bay,29,,,", "adjustable", "brace"),
        ("timber,16 ft,,10,bay,44,4 x 4,,", "timber", "4x4"),
        ("strut coupler,,,20,crate,3,,,", "coupler", "coupler"),
        ("tie coupler,,,20,crate,3,,,", "coupler", "coupler"),
        ("tie extension,1 ft,,20,crate,3,,,", "extension", "extension"),
        ("Wall Plates,5 ft,,20,rack,25,,,", "piece", "wall plate"),
        ("wedge pair,18 in,,40,crate,1,2x4,,", "piece", "wedge pair"),
        ("gusset,12 in,,60,crate,1,,12 x 12,", "piece", "gusset"),
        ("sheets of plywood,,,6,bay,60,,,", "piece", "sheet"),
    ],
)
def test_a_plain_variant_of_a_name_is_taken_for_the_thing(row: str, table: str, kind: str) -> None:
    made = stock_of(HEAD + row + "\n")
    assert [line.kind for line in getattr(made, table)] == [kind]
    assert no_shore_takes(made) == []


@pytest.mark.parametrize(
    ("row", "meant"),
    [
        ("wedge,18 in,,40,crate,1,2x4,,", "wedge pair, by the pair, with a variant"),  # so many wedges, or pairs?
        ("wedges 4x4,,,40,crate,1,,,", "wedge pair, by the pair, with a variant"),
        ("gusset,12 in,,60,crate,1,,,", 'part = "gusset" with a variant of 12x12, 12x24, 24x24, half'),
        ("anchor,,,60,crate,1,,,", 'part = "anchor" with a variant of block, brick, concrete, timber'),
        ("plywood,4 ft,,10,bay,30,,3/4,", "sheet, a whole sheet of 4 by 8 ft"),
        ("timber,4.80 m,,10,bay,44,100x100 mm,,", "a section of 2x4, 2x6, 4x4"),
        ("wall plate,3 ft,,10,bay,25,,,", "a wall plate with its length, 5 ft"),
        ("piket,4 ft,,10,bay,25,,,", "picket"),
        ("radio,,,6,truck,1,,,", ""),
    ],
)
def test_a_line_that_no_shore_takes_is_named_with_what_it_may_mean(row: str, meant: str) -> None:
    made = stock_of(HEAD + row + "\n")
    [(_, found)] = no_shore_takes(made)
    assert found.startswith(meant)
    text = " ".join(" ".join(stock_report(made).lines()).split())
    assert "no shore takes: " + made.lines[0].name in text
    assert ("did you mean" in text) == bool(meant)


def test_pieces_of_a_file_that_is_an_adjustable_one_are_told() -> None:
    text = '[[piece]]\nname = "six foot struts"\npart = "struts"\nquantity = 2\nwhere = "bay"\nweight_lb = 1\n'
    made = parse_stock(filled_in(stock_text("yard", [], "-")) + text)
    assert no_shore_takes(made) == [
        ("six foot struts", '[[adjustable]] with family = "strut", closed, open and screw')
    ]


def test_the_invented_stock_has_no_line_that_no_shore_takes() -> None:
    assert no_shore_takes(load_stock()) == []


def test_the_page_lists_what_a_shore_takes() -> None:
    for part in (*FAMILIES, *EXTENSIONS, *COUPLERS, *PIECES, *SECTIONS):
        assert f"`{part}`" in PAGE, part
    for part in PIECES:
        row = next(line for line in PAGE.splitlines() if line.startswith(f"| `{part}` |"))
        assert all(variant in row for variant in variants_of(part))


def needs_of_all_shores() -> list[Need]:
    kit, found = load_stock().kit, []
    every = "brick", "block", "concrete", "timber"
    for sole, feet, angle in product((None, "split", "solid"), (4, 9, 14), (45, 60)):
        request = Callout(insertion=Length.imperial(feet), angle_deg=angle, sole=sole)
        for wall in every if feet == 9 else ("brick",):
            found += needs_of(request, kit, Site(wall=wall, timber_beside=True)) or ()
        found += needs_of(request.model_copy(update={"kind": "flying_raker"}), kit) or ()
    for kind, feet, span, post in product(KIND_WORDS, (4, 9), (4, 8, 12), ("4x4", "6x6")):
        if "raker" not in kind:
            site = Site(span=Length.imperial(span), post=post)
            found += needs_of(Callout(kind=kind, insertion=Length.imperial(feet)), kit, site) or ()
    return found


def test_the_names_are_those_that_the_shores_look_for() -> None:
    """Every part, variant, family and section that a draft of any shore asks for, in the code that states the needs."""
    needs = needs_of_all_shores()
    assert {need.family for need in needs if isinstance(need, SpanNeed)} == set(FAMILIES)
    assert {need.section for need in needs if isinstance(need, CutNeed)} <= set(SECTIONS)
    asked = {(need.part, need.variant) for need in needs if isinstance(need, PieceNeed)}
    assert {part for part, _ in asked} == set(PIECES)
    for part, variant in asked:
        assert variant is None or variant in variants_of(part), (part, variant)
    for part in PIECES:
        assert bool(variants_of(part)) == any(variant for one, variant in asked if one == part), part


def test_nothing_that_is_uncertain_is_taken_for_a_part() -> None:
    for word in ("wedge", "wedges", "shim", "ply", "plate", "clamp", "head", "post", "prop"):
        assert known_part(word) not in (*FAMILIES, *PIECES)


def test_each_figure_of_a_kit_is_said_in_the_file_and_on_the_page() -> None:
    text = stock_text("yard", [], "-")
    assert set(SAYS) == set(Kit.model_fields) - {"strut", "rating"}
    for field, says in SAYS.items():
        assert any(re.match(rf"(# )?{field} = .* # {re.escape(says)}$", line) for line in text.splitlines()), field
        assert f"| `{field}` | {says} |" in PAGE
    assert "# [kit.strut]" in text


def test_the_lines_of_the_tube_are_read_once_their_mark_is_taken_away() -> None:
    text = filled_in(stock_text("yard", [], "-"))
    start = text.index("# [kit.strut]")
    tube, rest = text[start:].split("\n\n", 1)
    made = parse_stock(text[:start] + re.sub("^# ", "", tube, flags=re.M) + "\n\n" + rest)
    assert made.kit.strut is not None
    assert made.kit.strut.outside == Length.imperial(0, 3, 8)


def test_what_is_to_be_filled_in_is_told_by_its_line() -> None:
    text = stock_text("yard", [], "-")
    with pytest.raises(Mistakes) as wrong:
        parse_stock(text, "yard.toml")
    lines = text.splitlines()
    at = next(number for number, line in enumerate(lines, 1) if line.startswith("slack_in"))
    assert f"yard.toml, line {at}: fill in slack_in: {SAYS['slack_in']}" in wrong.value.lines
    assert len(wrong.value.lines) == text.count("FILL IN")


def test_a_refusal_for_want_of_the_tube_leads_to_it() -> None:
    packaged = load_stock()
    bare = packaged.model_copy(update={"kit": packaged.kit.model_copy(update={"strut": None})})
    request = Callout(insertion=Length.imperial(9), angle_deg=60)
    refused = ShorePlanner().plan(1, request, bare, Holdings.of(bare)).refused
    assert refused is not None
    assert "does not give the strut's tube" in refused.reason
    text = " ".join(stock_report(bare).lines())
    assert "[kit.strut], is not given" in text
    assert "[kit.strut]" not in " ".join(stock_report(packaged).lines())
    assert ShorePlanner().plan(1, request, packaged, Holdings.of(packaged)).refused is None
