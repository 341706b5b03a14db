"""What ships and under which licence: every package that an installation of callout brings, and what lies in its wheel.

    python release/licences.py            a table in Markdown
    python release/licences.py --check    ends with 1 where a package names no licence

It asks the installed packages themselves (their metadata), from callout's own requirements down.
"""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from importlib.metadata import Distribution, PackageNotFoundError, distribution

from packaging.requirements import Requirement

#: What lies in the wheel and is not our own code: name, licence, where its own text stands.
CARRIED = (
    ("weights of the ears", "Apache-2.0 and MIT", "callout/hearing/weights/MODEL_CARD*.md"),
    ("recordings of the demonstration", "as each line says", "audio_fixtures/demo/manifest.jsonl"),
)

#: Packages whose metadata names no licence: what their own pages say.
FROM_ITS_PAGE = {"espeakng-loader": "GPL-3.0-or-later (the eSpeak NG inside; the package names none)"}


@dataclass(frozen=True)
class Shipped:
    """One package. `licence` is empty where it names none."""

    name: str
    version: str
    licence: str


def licence_of(package: Distribution) -> str:
    """The SPDX expression, else the classifiers, else the first line of the free text."""
    about = package.metadata
    expression = about.get("License-Expression")
    if expression:
        return str(expression)
    lines = [line for line in about.get_all("Classifier") or () if line.startswith("License ::")]
    named = [name for line in lines if (name := line.rpartition(" :: ")[2]) != "OSI Approved"]
    text = (about.get("License") or "").strip().splitlines()
    return ", ".join(named) or (text[0][:60] if text else "") or FROM_ITS_PAGE.get(about["Name"], "")


def shipped(root: str = "callout") -> list[Shipped]:
    """Every package that `root` brings on this machine, sorted by name; extras are left out."""
    found: dict[str, Shipped] = {}
    waiting = [root]
    while waiting:
        name = re.sub(r"[-_.]+", "-", waiting.pop()).lower()
        if name in found:
            continue
        try:
            package = distribution(name)
        except PackageNotFoundError:
            continue  # for another system or Python
        found[name] = Shipped(package.metadata["Name"], package.version, licence_of(package))
        for line in package.requires or ():
            requirement = Requirement(line)
            if requirement.marker is None or requirement.marker.evaluate({"extra": ""}):
                waiting.append(requirement.name)
    return [found[name] for name in sorted(found)]


def table(packages: list[Shipped]) -> str:
    lines = ["| what ships | version | licence |", "|---|---|---|"]
    lines += [f"| {each.name} | {each.version} | {each.licence or 'NOT NAMED'} |" for each in packages]
    lines += [f"| {name} | with callout | {licence} ({where}) |" for name, licence, where in CARRIED]
    return "\n".join(lines)


def main() -> None:
    packages = shipped()
    print(table(packages))
    nameless = [each.name for each in packages if not each.licence]
    if nameless and "--check" in sys.argv[1:]:
        sys.exit(f"no licence is named by: {', '.join(nameless)}")


if __name__ == "__main__":
    main()
