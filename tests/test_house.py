"""The house keeps its own rules: who imports whom, how long a module is, which words never appear."""

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SOURCES = sorted((ROOT / "callout").rglob("*.py"))


def test_import_rules_hold() -> None:
    lint = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache"], cwd=ROOT, capture_output=True, text=True
    )
    assert lint.returncode == 0, lint.stdout
    assert "0 broken" in lint.stdout


def test_no_module_holds_more_than_one_idea() -> None:
    long = {str(p.relative_to(ROOT)): n for p in SOURCES if (n := len(p.read_text().splitlines())) > 350}
    assert not long


def test_code_never_reaches_outside_the_project() -> None:
    outside = re.compile(r"\.\./shared|/home/|/work/|https?://(?!www\.w3\.org)")
    found = [f"{p.relative_to(ROOT)}: {hit[0]}" for p in SOURCES if (hit := outside.search(p.read_text()))]
    assert not found


def test_the_core_imports_without_the_heavy_libraries() -> None:
    code = (
        "import sys, callout.language.outcome, callout.shoring.needs, callout.dialogue.events; "
        "print([m for m in ('vosk', 'pyttsx3', 'onnxruntime', 'textual', 'scipy') if m in sys.modules])"
    )
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "[]"
