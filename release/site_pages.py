"""Pages of the site that lie at the top of the tree, and links of pages to files that are not on the site."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from mkdocs.structure.files import File, Files

ROOT = Path(__file__).resolve().parent.parent
TOP = {
    "DEVELOPERS.md": "developers.md", "CONTRIBUTING.md": "contributing.md", "SECURITY.md": "security.md",
    "CHANGELOG.md": "changelog.md",
}  # fmt: skip
_LINK = re.compile(r"\[([^\]]*)\]\(([^)#\s]+)(#[^)\s]*)?\)")


def on_files(files: Files, config: Any) -> Files:
    for name, page in TOP.items():
        text = _LINK.sub(_from_the_top, (ROOT / name).read_text("utf-8"))
        files.append(File.generated(config, page, content=text))
    return files


def on_page_markdown(markdown: str, page: Any, **_: Any) -> str:
    """A link to a file of the tree that is no page becomes the file's name."""
    folder = (ROOT / "docs" / page.file.src_uri).parent

    def plain(link: re.Match[str]) -> str:
        target = link[2]
        if "://" in target or target in TOP.values():
            return link[0]
        place = (folder / target).resolve()
        if place.name in TOP and place.parent == ROOT:
            up = "../" * page.file.src_uri.count("/")
            return f"[{link[1]}]({up}{TOP[place.name]}{link[3] or ''})"
        if place.exists() and ROOT / "docs" not in place.parents:
            return f"{link[1]} (`{place.relative_to(ROOT)}`)"
        return link[0]

    return _LINK.sub(plain, markdown)


def _from_the_top(link: re.Match[str]) -> str:
    text, target, anchor = link[1], link[2], link[3] or ""
    if target in TOP:
        return f"[{text}]({TOP[target]}{anchor})"
    if target.rstrip("/") == "docs":
        return f"[{text}](index.md)"
    if target.startswith("docs/"):
        return f"[{text}]({target.removeprefix('docs/')}{anchor})"
    if "://" not in target and (ROOT / target).exists():
        return f"{text} (`{target}`)"
    return link[0]
