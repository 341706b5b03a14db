"""Part of building the source archive: what lies about in the project's folders, and is not the project's, is refused.

The archive takes whole folders. A recording or a journal that somebody left in one of them would be sent along.
"""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class NothingStray(BuildHookInterface):  # type: ignore[type-arg]
    """The builder finds it by its base class. Where there is no history of versions, as in an archive that was
    unpacked, there is nothing to compare with."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if not (Path(self.root) / ".git").exists():
            return
        packed = self.build_config.target_config["only-include"]
        found = subprocess.run(
            ["git", "ls-files", "--others", "--", *packed], cwd=self.root, capture_output=True, text=True
        )
        if found.returncode:
            raise RuntimeError(f"nobody can say which files are the project's: {found.stderr.strip()}")
        made = ("__pycache__/", ".pyc")  # the builder leaves these out by itself
        strays = [name for name in found.stdout.splitlines() if not any(part in name for part in made)]
        if strays:
            raise RuntimeError(f"these would be packed and are not the project's: {', '.join(strays[:8])}")
