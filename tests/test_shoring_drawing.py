"""Drawings: to scale, from the build's own numbers, every part marked as on the lists, nothing on top of another."""

from __future__ import annotations

import math
import random
import re
import xml.etree.ElementTree as ElementTree
import zlib

import pytest

from callout.shoring.build import Build
from callout.shoring.drawing import marks, sheet, svg_drawing, terminal_drawing
from callout.shoring.drawing.contact_sheet import SHOWN, contact_sheet
from callout.shoring.drawing.order import from_the_back
from callout.shoring.drawing.page import html_page
from callout.shoring.drawing.paper import WIDTH, Paper, Ring, Words, laid_out, wide
from callout.shoring.drawing.pdf import pdf_page
from callout.shoring.drawing.solids import SIDE, WHOLE, Model, Point3, Solid, dot
from callout.shoring.drawing.svg import TONES, model_of, view_papers
from callout.shoring.holdings import Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.request import Site
from callout.shoring.units import Writing
from callout.values import Callout, Length
from callout.values.meaning import Kind
from tests.checks_shoring import ft
from tests.how_much import examples
from tests.test_shoring_kinds import KINDS
from tests.test_shoring_practice import STOCK, build

NAMES = [f"{s.get('kind', 'raker')} {s.get('sole', '')}" for s in KINDS]
SVG = "{http://www.w3.org/2000/svg}"


def model(found: Build) -> Model:
    made = model_of(found)
    assert made is not None
    return made


def axis(found: Build, name: str) -> tuple[Point3, Point3]:
    line = model(found).named(name).axis
    assert line is not None
    return line


# --- to scale ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("angle", [30, 45, 60])
def test_the_raker_is_drawn_to_scale_at_its_angle(angle: int) -> None:
    """L = H / sin(angle)."""
    heel, top = axis(build(insertion=11, angle_deg=angle), "raker")
    assert math.degrees(math.atan2(top[1] - heel[1], heel[0] - top[0])) == pytest.approx(angle, abs=0.01)
    assert math.dist(heel, top) == pytest.approx(132 / math.sin(math.radians(angle)), abs=0.01)


def test_rakers_stand_as_far_apart_as_they_are_called() -> None:
    rakers = [one for one in model(build(insertion=11, angle_deg=60, rakers=3)).solids if one.name == "raker"]
    along = [one.axis[0][2] for one in rakers if one.axis is not None]
    assert along == [0, -72, -144]


def test_on_a_solid_sole_the_raker_stands_on_the_sole_before_the_wall_plate() -> None:
    """96 in less a sole of 3 1/2, at 60 degrees 106.8 in long (D); the plate of a 4x4 is 3 1/2 in deep."""
    heel, top = axis(build(insertion=8, angle_deg=60, sole="solid"), "raker")
    assert heel[1] == pytest.approx(3.5)
    assert top == pytest.approx((3.5, 96, 0))
    assert math.dist(heel, top) == pytest.approx(92.5 / math.sin(math.pi / 3), abs=0.01)


def test_lean_and_uneven_ground_are_drawn() -> None:
    found = build(Site(uneven=-ft(1)), insertion=10, angle_deg=45, lean=Length.imperial(inches=9))
    heel, top = axis(found, "raker")
    assert heel[1] == pytest.approx(-12)
    assert top[:2] == pytest.approx((9, 120))


def test_a_curb_is_drawn_as_a_step_where_it_stands() -> None:
    """11 ft at 60 degrees, a curb of 6 in at 4 ft from the wall: level to 48 in, then 6 in down."""
    found = build(Site(curb=Length.imperial(inches=6), curb_at=ft(4)), insertion=11, angle_deg=60)
    ends = [(a[:2], b[:2]) for a, b, *_ in (one.profile for one in model(found).solids if one.ink == "ground")]
    assert ((0.0, 0.0), (48.0, 0.0)) in ends
    assert any(a[1] == 0 and b[1] == -6 and b[0] - a[0] < 0.1 for a, b in ends)


@pytest.mark.parametrize("post", ["4x4", "6x6"])
def test_posts_are_drawn_between_header_and_sole_of_their_own_depth(post: str) -> None:
    """The void of 96 in: sole and header 3 1/2 or 5 1/2 in, wedges 1 1/2 in, and the post between (B)."""
    deep = {"4x4": 3.5, "6x6": 5.5}[post]
    found = build(Site.model_validate({"post": post}), kind="double_t", insertion=8)
    low, high = axis(found, "post")
    assert (low[1], high[1]) == (pytest.approx(deep + 1.5), pytest.approx(96 - deep))
    header = model(found).named("header").points
    assert max(y for _, y, _ in header) == 96
    assert max(x for x, _, _ in model(found).named("post").points) - 6 <= deep + 0.001 + 6


def test_a_deep_header_is_drawn_deep() -> None:
    """An opening 6 ft wide takes a 4x6: 84 in less 5 1/2, less sole 3 1/2 and wedges 1 1/2."""
    low, high = axis(build(Site(span=ft(6)), kind="window", insertion=7), "post")
    assert (low[1], high[1]) == (pytest.approx(5), pytest.approx(84 - 5.5))


@pytest.mark.parametrize(
    ("kind", "name", "section"),
    [("t", "post", (3.5, 3.5)), ("raker", "mid brace", (1.5, 5.5)), ("raker", "wall plate", (5.5, 5.5))],
)
def test_timber_has_its_true_section(kind: str, name: str, section: tuple[float, float]) -> None:
    """Dressed sizes: a 4x4 is 3 1/2 in, a 2x6 is 1 1/2 by 5 1/2 (NDS Supplement, from memory)."""
    said = {"kind": "t", "insertion": 8} if kind == "t" else {"insertion": 14, "angle_deg": 45, "sole": "solid"}
    solid = model(build(**said)).named(name)
    sides = {round(math.dist(a, b), 3) for a, b in zip(solid.profile, solid.profile[1:], strict=False)}
    sides |= {round(math.sqrt(dot(solid.along, solid.along)), 3)}
    assert set(section) <= sides


@pytest.mark.parametrize(("kind", "span"), [("vertical_post", 6), ("horizontal", 3)])
def test_a_diagonal_is_drawn_as_long_as_it_is_cut(kind: str, span: int) -> None:
    found = build(Site(span=ft(span)), kind=kind, insertion=7)
    a, b = axis(found, "diagonal")
    assert math.dist(a, b) == pytest.approx(float(found.geometry["diagonal"].best.inches), abs=0.1)


def test_the_scale_bar_is_to_scale() -> None:
    paper = laid_out(model(build(insertion=11, angle_deg=60)), SIDE)
    bars = [one for one in paper.shapes if getattr(one, "ink", "").startswith("bar")]
    along = max(x for one in bars for x, _ in one.points) - min(x for one in bars for x, _ in one.points)
    raker = next(one for one in paper.shapes if isinstance(one, Words) and one.text.endswith(" ft") and one.size == 14)
    assert along / int(raker.text.split()[0]) == pytest.approx(12 * paper.scale)


# --- what hides what -----------------------------------------------------------------------------------------------


def _entered(solid: Solid, at: Point3, toward: Point3) -> float | None:
    """How near to the viewer the ray through `at` meets the solid; None where it misses (clipping by half spaces)."""
    low, high = -math.inf, math.inf
    for face, looks in solid.faces():
        out = dot(looks, face[0]) - dot(looks, at)
        slope = dot(looks, toward)
        if abs(slope) < 1e-9:
            if out < 0:
                return None
        elif slope > 0:
            high = min(high, out / slope)
        else:
            low = max(low, out / slope)
    return high if low < high - 1e-6 else None


def test_what_is_nearer_is_painted_later() -> None:
    """Against rays: wherever a line of sight meets two boxes, the one that it meets first is painted over the other."""
    dice, met = random.Random(7), 0
    for _ in range(examples(12, 6)):
        one = Model(Writing(metric=False))
        for _ in range(60):
            x, y, z = (dice.randrange(0, 60, 10) for _ in range(3))
            low = (x + 0.5, y + 0.5, z + 0.5)
            if all(solid.profile[0] != low for solid in one.solids):
                one.box("timber", low, (x + dice.choice((5, 9.5)), y + 9.5, z + dice.choice((4, 9.5))))
        painted = from_the_back(one.solids, WHOLE)
        for _ in range(60):
            at = (dice.uniform(0, 60), dice.uniform(0, 60), dice.uniform(0, 60))
            hits = [near for solid in painted if (near := _entered(solid, at, WHOLE.toward)) is not None]
            met += len(hits) > 1
            assert hits == sorted(hits)
    assert met > 100


# --- marks and labels ----------------------------------------------------------------------------------------------


def rings(found: Build) -> set[str]:
    return {shape.text for paper in view_papers(found) for shape in paper.shapes if isinstance(shape, Ring)}


@pytest.mark.parametrize("said", [*KINDS, {"insertion": 17, "angle_deg": 45}], ids=[*NAMES, "long"])
def test_every_cut_and_every_piece_is_marked_as_on_the_lists(said: dict[str, object]) -> None:
    """Nails are too small to show; a timber goes by the letters of what is sawn from it."""
    found = build(**said)
    shown = rings(found)
    sawn = {bar.name for bar in found.nesting}
    loose = marks.LOOSE
    assert {letter for label, letter in marks.letters(found).items() if label not in loose} <= shown
    for part in found.parts:
        if part.part != "nail" and part.name not in sawn and not part.use.startswith(loose):
            assert str(part.item) in shown, (part.name, part.use)


def test_the_wedges_of_the_heel_are_not_the_shims_of_the_wall() -> None:
    """What shims the gap behind a wall plate has no place on the drawing, and is not marked as the heel's wedges."""
    found = build(insertion=8, angle_deg=60, sole="solid")
    wedges = next(part for part in found.parts if part.use.startswith("heels"))
    shims = [part for part in found.parts if part.use.startswith("shims")]
    assert str(wedges.item) in rings(found)
    assert not any(str(part.item) in rings(found) for part in shims)


def said_of_members(found: Build) -> list[str]:
    return [shape.text for paper in view_papers(found) for shape in paper.shapes if isinstance(shape, Words)]


@pytest.mark.parametrize("site", [Site(), Site(uneven=ft(-1))], ids=["level", "uneven"])
@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_every_member_stands_with_the_one_length_it_is_cut_or_set_to(said: dict[str, object], site: Site) -> None:
    found = build(site, **said)
    if found.refused is not None:  # a solid sole on a slope
        return
    texts = said_of_members(found)
    made = {cut.label: cut.length for cut in found.cuts}
    made |= {one.label: one.to_set for one in found.setting}
    for name, length in made.items():
        if name == "back-fill":  # put where a gap is
            continue
        assert any(text.endswith(length.text.removeprefix("about ")) for text in texts), (name, length.text, texts)


def test_what_a_member_is_set_to_is_one_figure_and_says_what_it_is_measured_between() -> None:
    """A lateral of 6 ft between the rakers is 5 ft 7 in on the tape laid on it (clamps take 5 in): list, steps, page,
    PDF and drawing say the second, and only the full reckoning the first, by its name."""
    found = build(insertion=11, angle_deg=60)
    lateral = next(one for one in found.setting if one.label == "lower lateral")
    assert (lateral.setting.text, lateral.to_set.text, lateral.measured) == ("6 ft", "5 ft 7 in", "on the member")
    raker = found.setting[0]
    assert (raker.to_set, raker.measured) == (raker.setting, "between the bearing faces")
    between = "rakers between the bearing faces, braces and ties on the member"
    for text in (sheet(found), html_page(found), svg_drawing(found), printed(found)):
        plain = " ".join(text.split())
        assert between in plain
        assert "5 ft 7 in" in plain
    steps = [step.text for step in found.steps]
    assert "on the ground, set each lateral to 5 ft 7 in on the member" in steps
    assert "set each mid brace to 3 ft 1 3/4 in on the member" in steps
    for one in found.setting:  # what locks and screw add up to is what the tape reads on it
        assert one.lock is not None
        assert one.screw_out is not None
        if one.label != "raker 1" and one.label != "raker 2":
            assert one.lock + one.screw_out == one.to_set
    full = " ".join(sheet(found, full=True).split())
    assert "lower lateral: set 5 ft 7 in on the member, 6 ft with its fittings, exactly 6 ft with them." in full


def test_an_anchor_is_measured_from_the_foot_of_its_plate() -> None:
    assert "upper anchor, 9 ft 4 in up the plate" in said_of_members(build(insertion=11, angle_deg=60))


def test_a_raker_by_rule_has_the_length_of_the_rule_alone() -> None:
    """11 ft at 60 degrees: by 14 in a foot 12 ft 10 in (B); exactly 12 ft 8 7/16 in, which nobody cuts."""
    texts = said_of_members(build(insertion=11, angle_deg=60, sole="split"))
    assert "raker, 12 ft 10 in" in texts
    assert not any("12 ft 8" in text for text in texts)
    assert "raker, set 12 ft 9 in" in said_of_members(build(insertion=11, angle_deg=60))


def test_height_angle_heel_and_spacing_are_dimensioned() -> None:
    """76.2 in from the wall to the heel, dug to half an inch."""
    texts = said_of_members(build(insertion=11, angle_deg=60))
    assert {"insertion 11 ft", "60°", "6 ft 4 in to the heel", "6 ft on centre"} <= set(texts)
    title = ElementTree.fromstring(svg_drawing(build(insertion=11, angle_deg=60))).findtext(f"{SVG}title")
    assert title == "Build 1: pair of strut rakers, 11 ft at 60 degrees"


def test_the_laced_post_shows_its_lacing() -> None:
    found = model(build(insertion=11, kind="laced_post"))
    names = [one.name for one in found.solids]
    assert (names.count("post"), names.count("lace"), names.count("diagonal")) == (4, 8, 6)
    assert [view.title for view in found.views] == ["Front", "End", "The whole shore"]


Rectangle = tuple[float, float, float, float]


def _takes(paper: Paper) -> list[tuple[str, Rectangle]]:
    found = []
    for shape in paper.shapes:
        if isinstance(shape, Ring):
            (x, y), half = shape.at, shape.wide / 2
            found.append((shape.text, (x - half, y - 11, x + half, y + 11)))
        elif isinstance(shape, Words):
            (x, y), long = shape.at, wide(shape.text, shape.size)
            before = {"start": 0.0, "middle": long / 2, "end": long}[shape.anchor]
            box = (x - before, y - shape.size * 0.7, x - before + long, y)
            if shape.turn:
                box = (x - shape.size * 0.7, y - long + before, x, y + before)
            found.append((shape.text, box))
    return found


@pytest.mark.parametrize("site", [Site(), Site(timber_beside=True, span=ft(10), uneven=ft(-1))], ids=["plain", "more"])
@pytest.mark.parametrize("said", [*KINDS, {"insertion": 17, "angle_deg": 45}], ids=[*NAMES, "long"])
def test_no_words_lie_on_one_another_or_leave_the_paper(said: dict[str, object], site: Site) -> None:
    """A letter is taken as 0.55 of its size wide, the mean of Helvetica's (from memory)."""
    for paper in view_papers(build(site, **said)):
        boxes = _takes(paper)
        for n, (text, (x0, y0, x1, y1)) in enumerate(boxes):
            assert x0 >= 0, (paper.title, text)
            assert x1 <= WIDTH, (paper.title, text)
            assert y0 >= 0, (paper.title, text)
            assert y1 <= paper.height, (paper.title, text)
            for other, (a0, b0, a1, b1) in boxes[:n]:
                assert x1 <= a0 + 1 or a1 <= x0 + 1 or y1 <= b0 + 1 or b1 <= y0 + 1, (paper.title, text, other)


# --- the joints, enlarged ------------------------------------------------------------------------------------------

TIMBER: list[dict[str, object]] = [
    {"insertion": 9, "angle_deg": 60, "sole": "solid"}, {"insertion": 10, "angle_deg": 45, "sole": "split"},
    {"insertion": 14, "angle_deg": 60, "sole": "solid"},
    {"insertion": 9, "angle_deg": 45, "sole": "solid", "lean": ft(0.5)},
    {"insertion": 8, "angle_deg": 45, "kind": "flying_raker"},
]  # fmt: skip


def _angle(a: Point3, b: Point3, c: Point3) -> float:
    """Degrees at b."""
    one, two = math.atan2(a[1] - b[1], a[0] - b[0]), math.atan2(c[1] - b[1], c[0] - b[0])
    return math.degrees(abs((one - two + math.pi) % math.tau - math.pi))


@pytest.mark.parametrize("said", TIMBER, ids=lambda one: f"{one.get('sole', 'flying')} {one['angle_deg']}")
def test_the_raker_is_cut_as_the_cut_list_says(said: dict[str, object]) -> None:
    """Top cut off square, return cuts of 1 1/2 in square to what the raker bears on (training slides, B), its depth."""
    found = build(**said)
    assert found.end_cuts is not None
    plate, seat, upper, *heel, under = model(found).named("raker").profile
    solid = said.get("sole") == "solid"
    assert math.dist(plate, seat) == pytest.approx(1.5)
    assert _angle(seat, plate, under) == pytest.approx(90, abs=0.1)
    assert _angle(plate, under, heel[-1]) - 90 == pytest.approx(found.end_cuts.top_deg, abs=0.8 if solid else 0.1)
    if solid:
        assert math.dist(upper, heel[0]) == pytest.approx(1.5)
        assert _angle(upper, heel[0], heel[1]) == pytest.approx(90, abs=0.1)
    way = (upper[0] - seat[0], upper[1] - seat[1])
    off = (under[0] - seat[0]) * way[1] - (under[1] - seat[1]) * way[0]
    assert abs(off) / math.hypot(*way) == pytest.approx(3.5 if said["insertion"] != 14 else 5.5, abs=0.01)


def _nails(one: Model) -> list[Point3]:
    """Those that go through plywood: seen as dots."""
    axes = [solid.axis for solid in one.solids if solid.name == "nail" and solid.axis is not None]
    return [a for a, b in axes if a[2] != b[2]]


@pytest.mark.parametrize("said", TIMBER, ids=lambda one: f"{one.get('sole', 'flying')} {one['angle_deg']}")
def test_head_and_heel_show_every_nail_of_their_gussets_and_say_how_many(said: dict[str, object]) -> None:
    """Top gusset 13 a side, 8 and 5; bottom gusset 5 into the raker and 8 into the sole (slides and course page, B)."""
    head, heel = model(build(**said)).enlarged
    texts = [[tag.text for tag in one.tags] for one in (head, heel)]
    assert "gussets: 8 x 8d to plate, 5 to raker" in texts[0]
    assert any("return cut 1 1/2 in" in text for text in texts[0])
    across = [len(_nails(one)) for one in (head, heel)]
    solid = said.get("sole") == "solid"
    assert across == [13, 13 if solid else 8]
    assert ("gussets: 5 x 8d to raker, 8 to sole" if solid else "trough sides, 8 x 8d each") in texts[1]
    for one, gusset in ((head, "top gusset"), (heel, "bottom gusset" if solid else "trough side")):
        outline = one.named(gusset).profile
        x0, x1 = min(p[0] for p in outline), max(p[0] for p in outline)
        y0, y1 = min(p[1] for p in outline), max(p[1] for p in outline)
        nails = _nails(one)
        assert all(x0 <= x <= x1 and y0 <= y <= y1 for x, y, _ in nails)


# --- as a file -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_the_svg_is_well_formed_titled_and_on_the_paper(said: dict[str, object]) -> None:
    text = svg_drawing(build(**said))
    root = ElementTree.fromstring(text)
    _, _, width, height = (float(n) for n in root.attrib["viewBox"].split())
    assert root.attrib["role"] == "img"
    assert root[0].tag == f"{SVG}title"
    assert "cut to" in (root.findtext(f"{SVG}desc") or "")
    assert width == WIDTH
    for shape in [*root.iter(f"{SVG}polygon"), *root.iter(f"{SVG}polyline")]:
        for point in shape.attrib["points"].split():
            x, y = (float(n) for n in point.split(","))
            assert -1 <= x <= width + 1
            assert -40 <= y <= height


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_type_is_legible_on_a_phone(said: dict[str, object]) -> None:
    """On a phone of 360 points no letter is under 9.5 points, what is read first is 11 (from memory: 9 is the least
    that platform guides advise)."""
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', svg_drawing(build(**said)))]
    assert min(sizes) * 360 / WIDTH >= 9.5
    assert max(sizes) * 360 / WIDTH >= 13


def _bright(colour: str) -> float:
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return sum(share * c for share, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


@pytest.mark.parametrize("night", [0, 1], ids=["day", "night"])
def test_lines_and_type_stand_out_by_day_and_by_night(night: int) -> None:
    """WCAG 2.1, 1.4.6: 7 to 1 for text, here also on every member that a label's line crosses."""
    ink = ("#1b1b1b", "#ececec")[night]
    text = svg_drawing(build(insertion=11, angle_deg=60))
    assert ink in text
    assert "prefers-color-scheme:dark" in text
    for name, tones in TONES.items():
        for colour in tones[night]:
            low, high = sorted((_bright(ink), _bright(colour)))
            assert name == "bar" or (high + 0.05) / (low + 0.05) >= (7 if "metal" not in name else 4.5), (name, colour)


def test_a_refused_shore_has_its_reason_in_place_of_a_drawing() -> None:
    found = build(insertion=11, angle_deg=50, sole="split")
    assert model_of(found) is None
    assert "not 50" in " ".join(ElementTree.fromstring(svg_drawing(found)).itertext())
    assert "not 50" in html_page(found)


def printed(build: Build) -> str:
    """All words of the PDF, as its streams hold them (PDF 1.7, 9.4.3: a string in parentheses before Tj)."""
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf_page(build), re.DOTALL)
    packed = [stream for stream in streams if stream[:1] == b"x"]
    assert packed
    words = [re.findall(rb"\((.*?)\) Tj", zlib.decompress(one)) for one in packed]
    return b" ".join(word for some in words for word in some).decode("latin-1").replace("\u00a0", " ")


def test_every_paper_of_a_refused_shore_says_what_works_instead() -> None:
    found = build(Site(force_lb=9000), insertion=11, angle_deg=60, sole="solid")
    assert found.refused is not None
    assert found.refused.instead
    for paper in (sheet(found), re.sub(r"<[^>]*>", " ", html_page(found)), printed(found)):
        assert f"What works: {found.refused.instead}." in " ".join(paper.split())


def test_a_part_without_a_place_has_no_comma_after_it_in_print() -> None:
    found = build(insertion=11, angle_deg=60)
    nowhere = found.model_copy(update={"parts": tuple(one.model_copy(update={"where": ""}) for one in found.parts)})
    first = f"2 x {found.parts[0].name}"
    assert f"{first}, {found.parts[0].where} 2. " in " ".join(printed(found).split())
    assert f"{first} 2. " in " ".join(printed(nowhere).split())


def test_a_callout_in_millimetres_is_drawn_in_millimetres() -> None:
    """3350 / tan 60 is 1934 mm, dug to a centimetre; 3.908 m by the rule, set to the next 50 mm."""
    found = ShorePlanner().plan(1, Callout(insertion=Length.mm(3350), angle_deg=60), STOCK, Holdings.of(STOCK))
    texts = said_of_members(found)
    assert {"insertion 3.35 m", "1.93 m to the heel", "raker, set 3.87 m", "1.8 m on centre"} <= set(texts)
    assert found.setting[0].setting == Length.mm(3870)


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_the_terminal_drawing_fits_an_eighty_column_terminal(said: dict[str, object]) -> None:
    lines = terminal_drawing(build(**said)).splitlines()
    assert lines
    assert max(map(len, lines)) <= 80
    assert all(line.replace("°", "").isascii() for line in lines)


def test_the_page_holds_drawings_and_lists_and_calls_nobody() -> None:
    found = build(insertion=11, angle_deg=60, sole="solid")
    page = html_page(found, "north wall", "16:20")
    assert page.count("<svg") == 5  # side, front, whole; head and heel enlarged
    assert not re.search(r'(?:src|href)="|@import|url\((?!#)', page)
    for part in found.parts:
        assert part.name in page
    for step in found.steps:
        assert step.text.replace("'", "&#39;") in page
    assert "@page" in page


def test_the_page_of_the_docs_shows_every_kind_as_it_is_drawn_today() -> None:
    from pathlib import Path
    from typing import get_args

    assert {str(said.get("kind", "raker")) for said, _ in SHOWN} == set(get_args(Kind))
    kept = Path(__file__).parent.parent / "docs" / "shores.svg"
    titles = [re.findall(r'font-weight="bold">([^<]{9,})<', one) for one in (kept.read_text("utf-8"), contact_sheet())]
    assert titles[0] == titles[1], "draw it anew: python -m callout.shoring.drawing.contact_sheet docs/shores.svg"
    assert len(titles[0]) == len(SHOWN)
