"""The house keeps its own rules: who imports whom, how long a function is, which words never appear."""

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SOURCES = [path for room in ("callout", "ears_training") for path in sorted((ROOT / room).rglob("*.py"))]


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text())


def test_import_rules_hold() -> None:
    lint = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache"], cwd=ROOT, capture_output=True, text=True
    )
    assert lint.returncode == 0, lint.stdout
    assert "0 broken" in lint.stdout


def test_a_class_name_means_one_thing() -> None:
    named: dict[str, list[str]] = {}
    for path in sorted((ROOT / "callout").rglob("*.py")):
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                named.setdefault(node.name, []).append(str(path.relative_to(ROOT)))
    assert not {name: places for name, places in named.items() if len(places) > 1}


def test_functions_are_short() -> None:
    long = []
    for path in SOURCES:
        for node in ast.walk(tree_of(path)):
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
                lines = (node.end_lineno or 0) - node.lineno + 1
                if lines > 75:
                    long.append(f"{path.relative_to(ROOT)}: {node.name} has {lines} lines")
    assert not long


def test_pages_of_html_have_one_head() -> None:
    pages = [path for path in (ROOT / "callout").rglob("*.html") if path.name != "base.html"]
    assert len(pages) >= 6
    assert not [str(page) for page in pages if not page.read_text().startswith('{% extends "base.html" %}')]


def test_files_that_are_named_are_there() -> None:
    """In code, comments and pages: whoever renames a module renames what is said of it."""
    named = re.compile(r"\b(?:callout|ears_training|release|tests)/[a-z0-9_/]+\.(?:py|html|toml|svg|css|js)\b")
    pages = [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md"), *SOURCES]
    gone = {
        f"{page.relative_to(ROOT)}: {name}"
        for page in pages
        if page.name != "CHANGELOG.md"
        for name in named.findall(page.read_text("utf-8"))
        if not (ROOT / name).exists()
    }
    assert not gone


def test_code_never_reaches_outside_the_project() -> None:
    outside = re.compile(r"\.\./shared|/home/|/work/|https?://(?!www\.w3\.org)")
    found = [f"{p.relative_to(ROOT)}: {hit[0]}" for p in SOURCES if (hit := outside.search(p.read_text()))]
    assert not found


def test_the_core_imports_without_the_heavy_libraries() -> None:
    code = (
        "import sys, callout.language.outcome, callout.shoring.allocation, callout.dialogue.events; "
        "print([m for m in ('vosk', 'pyttsx3', 'onnxruntime', 'textual', 'scipy') if m in sys.modules])"
    )
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "[]"


def imports(*rooms: str) -> dict[str, set[str]]:
    """module -> the modules of ours that it needs when it runs, wherever in it they are imported."""
    modules = {
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
        for room in rooms
        for path in sorted((ROOT / room).rglob("*.py"))
    }
    found: dict[str, set[str]] = {}
    for name, path in modules.items():
        tree = tree_of(path)
        typing = {
            id(inner)
            for node in ast.walk(tree)
            if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
            for inner in ast.walk(node)
        }
        needed: set[str] = set()
        for node in ast.walk(tree):
            if id(node) in typing:
                continue
            if isinstance(node, ast.Import):
                needed.update(alias.name for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.module:
                for alias in node.names:
                    inner = f"{node.module}.{alias.name}"
                    needed.add(inner if inner in modules else node.module)
        found[name] = {module for module in needed if module in modules and module != name}
    return found


def test_no_two_files_import_each_other() -> None:
    needs = imports("callout", "ears_training", "tests", "release", "audio_fixtures")
    assert {"callout.api", "ears_training.voices", "tests.test_house", "release.site"} < set(needs)
    assert not sorted({tuple(sorted((a, b))) for a, others in needs.items() for b in others if a in needs[b]})
