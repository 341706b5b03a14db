"""Drawings: to scale, from the build's own numbers, legible without colour, and never outside the paper."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ElementTree

import pytest

from callout.shoring.build import Build
from callout.shoring.drawing import sheet, svg_drawing, terminal_drawing
from callout.shoring.drawing.scene import Scene, scenes
from callout.shoring.holdings import Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.request import Site
from callout.values import Callout, Length
from tests.checks_shoring import ft
from tests.test_shoring_kinds import KINDS
from tests.test_shoring_practice import STOCK, build

NAMES = [f"{s.get('kind', 'raker')} {s.get('sole', '')}" for s in KINDS]


def stroke(scene: Scene, name: str) -> tuple[tuple[float, float], ...]:
    return next(s.points for s in scene.strokes if s.name == name)


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_svg_is_well_formed_black_and_white_and_on_the_paper(said: dict[str, object]) -> None:
    text = svg_drawing(build(**said))
    root = ElementTree.fromstring(text)
    _, _, width, height = (float(n) for n in root.attrib["viewBox"].split())
    for line in root.iter("{http://www.w3.org/2000/svg}polyline"):
        for point in line.attrib["points"].split():
            x, y = (float(n) for n in point.split(","))
            assert 0 <= x <= width
            assert 0 <= y <= height
    assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', text)) <= {"black", "white", "none", "url(#wall)"}


@pytest.mark.parametrize("angle", [30, 45, 60])
def test_the_raker_is_drawn_to_scale_at_its_angle(angle: int) -> None:
    found = build(insertion=11, angle_deg=angle)
    side, row = scenes(found)
    (hx, hy), (ix, iy) = stroke(side, "raker")
    assert math.degrees(math.atan2(iy - hy, hx - ix)) == pytest.approx(angle, abs=0.01)
    assert math.dist((hx, hy), (ix, iy)) == pytest.approx(float(found.geometry["raker"].best.inches), abs=0.01)
    left, right = stroke(row, "raker 1"), stroke(row, "raker 2")
    assert right[0][0] - left[0][0] == pytest.approx(72)


def test_on_a_solid_sole_the_raker_stands_on_the_sole() -> None:
    found = build(insertion=8, angle_deg=60, sole="solid")
    foot, top = stroke(scenes(found)[0], "raker")
    assert foot[1] == pytest.approx(3.5)
    assert math.dist(foot, top) == pytest.approx(float(found.geometry["raker_on_sole"].best.inches), abs=0.01)


def test_svg_lengths_keep_the_scale_that_is_written_on_it() -> None:
    text = svg_drawing(build(insertion=11, angle_deg=60))
    pixels = [float(n) for n in re.findall(r"1 ft = ([\d.]+) px", text)]
    raker = re.search(r'<polyline points="([\d.]+),([\d.]+) ([\d.]+),([\d.]+)"[^>]*><title>raker</title>', text)
    assert raker is not None
    x0, y0, x1, y1 = map(float, raker.groups())
    feet = math.hypot(152.42 / 12, 0)
    assert math.dist((x0, y0), (x1, y1)) / feet == pytest.approx(pixels[0], rel=0.03)


def test_dimensions_say_what_the_geometry_says() -> None:
    found = build(insertion=11, angle_deg=60)
    text = svg_drawing(found)
    said = "insertion 11 ft", "base 6 ft 4 3/16 in", "raker 12 ft 8 7/16 in", "on centre 6 ft", "wall plate 12 ft"
    for words in said:
        assert words in text
        assert words in terminal_drawing(found)


def test_lean_and_uneven_ground_are_drawn() -> None:
    found = build(Site(uneven=-ft(1)), insertion=10, angle_deg=45, lean=Length.imperial(inches=9))
    side = scenes(found)[0]
    foot, top = stroke(side, "raker")
    assert foot[1] == pytest.approx(-12)
    assert top == pytest.approx((9, 120))


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_the_terminal_drawing_fits_an_eighty_column_terminal(said: dict[str, object]) -> None:
    lines = terminal_drawing(build(**said)).splitlines()
    assert lines
    assert max(map(len, lines)) <= 80
    assert all(line.isascii() for line in lines)


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_the_sheet_holds_everything_and_the_cautions_once(said: dict[str, object]) -> None:
    found = build(**said)
    text = sheet(found)
    for caution in found.cautions:
        assert text.count(caution) == 1
    for part in found.parts:
        assert part.name in text
    for step in found.steps:
        assert step.text in text
    for check in found.before_load:
        assert check in text
    for source in found.sources:
        assert source in text


def test_a_refused_build_says_why_and_what_exists() -> None:
    found = build(insertion=11, angle_deg=50, sole="split")
    assert isinstance(found, Build)
    assert scenes(found) == ()
    assert "not 50" in sheet(found)
    assert "angle deg 45" in sheet(found)
    assert "not 50" in svg_drawing(found)


def test_a_callout_in_millimetres_is_drawn_and_written_in_millimetres() -> None:
    planner = ShorePlanner()
    found = planner.plan(1, Callout(insertion=Length.mm(3350), angle_deg=60), STOCK, Holdings.of(STOCK))
    assert "raker 3.868 m" in svg_drawing(found)  # 3350 / sin 60
    assert "base 1.934 m" in svg_drawing(found)
    assert found.setting[0].setting == Length.mm(3950)  # 3.908 m by the rule, up to the next 50 mm
    raker = next(line for line in sheet(found).splitlines() if line.startswith("  raker  "))
    assert raker.endswith(" 3.868 m")


@pytest.mark.parametrize("post", ["4x4", "6x6"])
def test_posts_are_drawn_between_header_and_sole_of_their_own_depth(post: str) -> None:
    """The void of 96 in: sole and header 3 1/2 or 5 1/2 in, wedges 1 1/2 in, and the post between (B)."""
    deep = {"4x4": 3.5, "6x6": 5.5}[post]
    (scene,) = scenes(build(Site.model_validate({"post": post}), kind="double_t", insertion=8))
    (_, low), (_, high) = stroke(scene, "post")
    assert (low, high) == (pytest.approx(deep + 1.5), pytest.approx(96 - deep))
    assert stroke(scene, "header")[0][1] == pytest.approx(96 - deep / 2)


def test_a_deep_header_is_drawn_deep() -> None:
    """An opening 6 ft wide takes a 4x6: 84 in less 5 1/2, less sole 3 1/2 and wedges 1 1/2."""
    (scene,) = scenes(build(Site(span=ft(6)), kind="window", insertion=7))
    (_, low), (_, high) = stroke(scene, "post")
    assert (low, high) == (pytest.approx(5), pytest.approx(84 - 5.5))


def _dimensions(found: Build) -> list[str]:
    return [dimension.text for scene in scenes(found) for dimension in scene.dimensions]


@pytest.mark.parametrize("site", [Site(), Site(uneven=ft(-1))], ids=["level", "uneven"])
@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_every_member_is_dimensioned_as_it_is_cut_or_set(said: dict[str, object], site: Site) -> None:
    if site.uneven and said.get("sole") == "solid":
        said = said | {"sole": "split"}  # a solid sole needs level ground
    """What is drawn exactly and cut by rule, or with an allowance, has both lengths on the drawing."""
    found = build(site, **said)
    texts = _dimensions(found)
    members = {
        "raker", "wall plate", "sole plate", "mid brace", "bottom brace", "diagonal", "lower tie", "post", "header",
        "strut", "lace", "crib piece",
    }  # fmt: skip
    made = {cut.label: cut.length for cut in found.cuts if cut.label in members}
    made |= {one.label: one.setting for one in found.setting}
    assert made
    for name, length in made.items():
        assert any(text.endswith(f" {length.text}") for text in texts), (name, length.text, texts)
    if "sole" in said and said["sole"] == "solid":
        assert any(text.startswith("sole plate ") for text in texts)


def test_a_raker_by_rule_is_drawn_exactly_and_both_are_said() -> None:
    """11 ft at 60 degrees: exactly 152.42 in; by 14 in a foot 12 ft 10 in (B)."""
    texts = _dimensions(build(insertion=11, angle_deg=60, sole="split"))
    assert "raker 12 ft 8 7/16 in" in texts
    assert "raker: cut to 12 ft 10 in" in texts
    assert "raker: set to 13 ft" in _dimensions(build(insertion=11, angle_deg=60))


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_no_words_leave_the_paper(said: dict[str, object]) -> None:
    """A letter is taken as six tenths of its size wide."""
    root = ElementTree.fromstring(svg_drawing(build(**said)))
    _, _, width, height = (float(n) for n in root.attrib["viewBox"].split())
    for text in root.iter("{http://www.w3.org/2000/svg}text"):
        long = len(text.text or "") * 0.6 * float(text.attrib["font-size"])
        before = {"start": 0.0, "middle": long / 2}[text.attrib["text-anchor"]]
        turn = math.radians(float(re.findall(r"rotate\(([-\d.]+)", text.attrib.get("transform", "rotate(0"))[0]))
        for along in (-before, long - before):
            assert 0 <= float(text.attrib["x"]) + along * math.cos(turn) <= width, text.text
            assert 0 <= float(text.attrib["y"]) + along * math.sin(turn) <= height, text.text


@pytest.mark.parametrize(("kind", "span"), [("window", 4), ("vertical_post", 6), ("horizontal", 3)])
def test_a_diagonal_is_drawn_as_long_as_it_is_cut(kind: str, span: int) -> None:
    found = build(Site(span=ft(span)), kind=kind, insertion=7)
    drawn = math.dist(*stroke(scenes(found)[0], "diagonal"))
    assert drawn == pytest.approx(float(found.geometry["diagonal"].best.inches), abs=0.1)


def test_the_columns_of_the_sheet_do_not_run_together() -> None:
    lines = sheet(build(insertion=11, angle_deg=60, sole="solid")).splitlines()
    assert any(re.search(r"2x6 timber, \d+ ft  +timber bay 2x6  +timber$", line) for line in lines)
    assert "  chosen: timber beside no (no timber rakers said to stand beside)" in sheet(
        build(insertion=11, angle_deg=60)
    ).splitlines()


def test_a_curb_is_drawn_as_a_step_where_it_stands() -> None:
    """11 ft at 60 degrees, a curb of 6 in at 4 ft from the wall: level to 48 in, then 6 in down."""
    found = build(Site(curb=Length.imperial(inches=6), curb_at=ft(4)), insertion=11, angle_deg=60)
    ground = next(one.points for one in scenes(found)[0].strokes if one.ink == "ground")
    assert ground[2:4] == ((48.0, 0.0), (48.0, -6.0))
