"""The pages: every link leads somewhere, the site is built whole, and nothing is fetched when it is read."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest

from tests import conclusions

ROOT = Path(__file__).resolve().parent.parent
PAGES = [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")]
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")


def anchors(page: Path) -> set[str]:
    """The anchors that a page has, as GitHub and mkdocs make them of its headings."""
    heads = re.findall(r"^#+ (.+)$", page.read_text("utf-8"), re.M)
    return {re.sub(r"[^\w\- ]", "", head.lower()).strip().replace(" ", "-") for head in heads}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_of_a_page_leads_somewhere(page: Path) -> None:
    text = re.sub(r"```.*?```", "", page.read_text("utf-8"), flags=re.S)
    for target in LINK.findall(text):
        if "://" in target or target.startswith("mailto:"):
            continue
        name, _, anchor = target.partition("#")
        place = (page.parent / name).resolve() if name else page
        assert place.exists(), f"{page.name}: {target}"
        if anchor and place.suffix == ".md":
            assert anchor in anchors(place), f"{page.name}: {target}"


def test_the_conclusions_say_what_the_proofs_wrote() -> None:
    written = (conclusions.FOLDER / "index.md").read_text("utf-8")
    assert written == conclusions.page(), "run: python -m tests.conclusions"


@pytest.mark.skipif(importlib.util.find_spec("mkdocs") is None, reason="mkdocs is not installed (callout[dev])")
def test_the_site_is_built_and_fetches_nothing(tmp_path: Path) -> None:
    from release.site import build

    build(tmp_path / "site")
    made = list((tmp_path / "site").rglob("*.html"))
    assert len(made) >= len(list((ROOT / "docs").rglob("*.md")))
    fetched = re.compile(r"<(?:script|img|iframe|source|video|audio)[^>]+src=[\"'](?:https?:)?//|"
                         r"<link(?![^>]+rel=[\"']?canonical)[^>]+href=[\"'](?:https?:)?//|@import|url\([\"']?(?:https?:)?//")
    for page in [*made, *(tmp_path / "site").rglob("*.css")]:
        hit = fetched.search(page.read_text("utf-8"))
        assert hit is None, f"{page.relative_to(tmp_path)}: {hit[0]}" if hit else ""
    assert 'class="mermaid"' not in "".join(page.read_text("utf-8") for page in made)  # it would fetch a script
    text = (tmp_path / "site" / "reference.html").read_text("utf-8")
    assert "What a typed line means" in text


def told(page: str) -> list[str]:
    """What a page tells people to say: the words in quotes, and those under "say" in its tables."""
    text = (ROOT / "docs" / page).read_text("utf-8")
    found = re.findall(r'"([^"]+)"', text.partition("## When something breaks")[0])
    for rows in re.findall(r"^\| you want[^\n]*\| say[^\n]*\n\|[-|]+\|\n((?:\|[^\n]*\n)+)", text, re.M):
        cells = [row.split("|")[2] for row in rows.splitlines()]
        found += [word for cell in cells if '"' not in cell for word in cell.split(",")]
    return sorted({word.strip(" .?") for word in found} - {"", "-"})


#: Said by callout, or named as what is no word of the conversation.
NOT_SAID = {"over"}


@pytest.mark.parametrize("page", ["logistics.md", "measurer.md"])
def test_what_the_pages_tell_people_to_say_is_understood(page: str) -> None:
    import callout

    words = [word for word in told(page) if word not in NOT_SAID]
    assert len(words) > 12
    assert not [word for word in words if callout.read(word).outcome != "understood"]
