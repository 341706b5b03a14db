"""The check values of the shoring mind on one page: what an outside source has, what we have, and the difference.

    python -m tests.proof shoring     writes docs/proofs/shoring.md
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from callout.shoring.rules import Rule, packaged_rules
from tests.checks_shoring import Check, every_check

PAGE = Path(__file__).resolve().parent.parent / "docs" / "proofs" / "shoring.md"
GRADES = {
    "A": "seen in a primary source: government document, code, standard, textbook",
    "B": "seen in a secondary source that restates it",
    "M": "from memory; check your field guide",
    "D": "worked from stated inputs",
    "P": "common practice, no source",
}


def prove() -> None:
    """Write the page; a value out of its tolerance is marked, and the run fails."""
    checks = every_check()
    failed = [check for check in checks if not _holds(check)]
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text(page(checks), "utf-8")
    print(f"{len(checks)} values, {len(failed)} out of tolerance: {PAGE.name}")
    if failed:
        raise SystemExit(1)


def _holds(check: Check) -> bool:
    return abs(check.ours() - check.expected) <= check.tolerance + 1e-9


def page(checks: list[Check]) -> str:
    count = Counter(check.grade for check in checks)
    lines = [
        "# Check values of the shoring mind",
        "",
        "Made by `python -m tests.proof shoring`. Working estimates, not approvals: the structures specialist or",
        "competent person decides; local codes and your team's own field guide win.",
        "",
        "| grade | meaning | values |",
        "|---|---|---|",
        *(f"| {grade} | {meaning} | {count[grade]} |" for grade, meaning in GRADES.items()),
        "",
        f"{len(checks)} values; {sum(not _holds(c) for c in checks)} out of tolerance.",
        "",
        "| check | source has | ours | difference | unit | grade | source |",
        "|---|---|---|---|---|---|---|",
        *(_row(check) for check in checks),
        "",
        "## Where sources disagree",
        "",
        "- Cleat nails at 45 degrees: 14 in the slides, 13 on a metric page, 17 in an older edition. We use 14.",
        "- The solid-sole slides print 8 x 7 as 54 in and a sole of 81.5 in; 8 x 7 is 56, so 83.5 in is checked.",
        "- 6x6 posts: the field figures (20,000 / 12,000 / 7,500 lb) stand above today's NDS. Both are shown here;",
        "  plans use NDS No. 2 at a load duration of 1.0.",
        "- L/d 25 is preferred for rescue posts, 50 is the code's limit: plans warn over 25 and refuse over 50.",
        "- Height is measured from the grade at the wall. The slides' solid-sole wall plate adds the sole's thickness,",
        "  as if height began at the top of the sole: that is the rule of the wall plate; the exact one is beside it.",
        "- Whether 2,500 and 3,600 lb are horizontal or along the raker is not stated; at 60 degrees that is a factor",
        "  of two. Plans take them as a horizontal force, so that the member is checked for the greater load, and show",
        "  no margin against them; read the current guide.",
        "",
        "## Every figure in use",
        "",
        "Keys for a team's own file (`callout plan --rules FILE`).",
        "",
        "| key | value | unit | grade | source | edition | note |",
        "|---|---|---|---|---|---|---|",
        *(_figure(rule) for rule in packaged_rules().table.values()),
        "",
        "Wanted: no print was found, so nothing is assumed; a team that has one gives it in its file.",
        "",
        "| key | unit | what |",
        "|---|---|---|",
        *(f"| `{key}` | {unit} | {called} |" for key, (unit, called) in packaged_rules().wanted.items()),
        "",
    ]  # fmt: skip
    return "\n".join(lines)


def _row(check: Check) -> str:
    ours = check.ours()
    mark = "" if _holds(check) else " **out of tolerance**"
    difference = ours - check.expected
    shown = "0" if abs(difference) < 5e-7 else f"{difference:+.3g}"
    return (
        f"| {check.name} | {check.expected:,g} | {_number(ours)} | {shown}{mark} | {check.unit} | {check.grade} "
        f"| {check.source} |"
    )


def _number(value: float) -> str:
    return f"{value:,.4f}".rstrip("0").rstrip(".")


def _figure(rule: Rule) -> str:
    value = ", ".join(f"{k} {v}" for k, v in rule.value.items()) if isinstance(rule.value, dict) else rule.value
    return f"| `{rule.key}` | {value} | {rule.unit} | {rule.grade} | {rule.source} | {rule.edition} | {rule.note} |"


if __name__ == "__main__":
    prove()
