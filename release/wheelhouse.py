"""A folder to carry on a stick: callout and everything it needs as wheels, installed where there is no network.

    python release/wheelhouse.py FOLDER
    python -m pip install --no-index --find-links FOLDER callout

The wheels suit the Python version, the system and the processor of the machine that made them.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def make(folder: Path) -> list[Path]:
    """Fill `folder`; what comes as source only (one small package does) is built into a wheel on the way."""
    folder.mkdir(parents=True, exist_ok=True)
    pip = [sys.executable, "-m", "pip", "wheel", "--disable-pip-version-check", "--quiet"]
    subprocess.run([*pip, "--wheel-dir", str(folder), f"{ROOT}"], check=True)
    return sorted(folder.glob("*.whl"))


def main() -> None:
    if len(sys.argv) != 2:
        sys.exit("usage: python release/wheelhouse.py FOLDER")
    folder = Path(sys.argv[1])
    try:
        wheels = make(folder)
    except subprocess.CalledProcessError:
        sys.exit("wheelhouse: pip could not gather everything; what it says above names the package")
    size = sum(wheel.stat().st_size for wheel in wheels)
    print(f"{len(wheels)} wheels, {size / 2**20:.0f} MB, in {folder}")
    print(f"install from it with: python -m pip install --no-index --find-links {folder} callout")


if __name__ == "__main__":
    main()
