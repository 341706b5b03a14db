"""What is given to a team: papers that name what ships, and an installation from a stick without a network."""

from __future__ import annotations

import configparser
import json
import os
import re
import shutil
import subprocess
import sys
import tarfile
from pathlib import Path

import pytest

from release.licences import licence_of, shipped
from release.wheelhouse import ROOT, make


def test_every_package_that_ships_is_in_the_page_of_licences_with_its_licence() -> None:
    page = (ROOT / "docs" / "licences.md").read_text("utf-8")
    rows = {name.lower(): licence for name, licence in re.findall(r"^\| (\S+) \| \S+ \| (.+) \|$", page, re.M)}
    assert len(shipped()) > 30
    for package in shipped():
        assert rows.get(package.name.lower()), f"{package.name} is missing: make licences"
        assert "NOT NAMED" not in rows[package.name.lower()]


def test_a_licence_is_read_as_the_packaging_standard_writes_it() -> None:
    """Core metadata 2.4 (PEP 639): License-Expression, before that classifiers, before that free text."""
    from importlib.metadata import distribution

    assert licence_of(distribution("click")) == "BSD-3-Clause"
    assert "Apache" in licence_of(distribution("vosk"))


@pytest.mark.slow  # .ci/run makes the bill itself
def test_the_bill_of_materials_names_what_the_page_of_licences_names(tmp_path: Path) -> None:
    """CycloneDX 1.6 (ECMA-424), by its own tool: bomFormat, and components with name and version."""
    out = tmp_path / "bill.json"
    made = subprocess.run([sys.executable, ROOT / "release" / "bill.py", out], capture_output=True, text=True)
    assert made.returncode == 0, made.stderr
    bill = json.loads(out.read_text())
    assert bill["bomFormat"] == "CycloneDX"
    named = {part["name"].lower().replace("_", "-") for part in bill["components"]} | {"callout"}
    assert {package.name.lower().replace("_", "-") for package in shipped()} <= named


def test_the_icon_and_the_service_start_commands_that_there_are() -> None:
    desktop = configparser.ConfigParser(interpolation=None, strict=True)
    desktop.optionxform = str  # type: ignore[assignment,method-assign]
    desktop.read(ROOT / "release" / "callout.desktop")
    assert desktop["Desktop Entry"]["Exec"] == "callout listen --screen"
    unit = (ROOT / "release" / "callout.service").read_text()
    assert "ExecStart=%h/.local/bin/callout listen\n" in unit


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not installed")
def test_systemd_reads_the_service(tmp_path: Path) -> None:
    unit = tmp_path / "callout.service"
    text = (ROOT / "release" / "callout.service").read_text()
    unit.write_text(text.replace("%h/.local/bin/callout", sys.executable))  # it asks whether the program is there
    done = subprocess.run(["systemd-analyze", "--user", "verify", unit], capture_output=True, text=True)
    assert str(unit) not in done.stderr, done.stderr


@pytest.mark.slow
def test_the_source_archive_holds_the_project_and_nothing_that_lay_about(tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    subprocess.run(["git", "clone", "-q", str(ROOT), str(copy)], check=True)
    (copy / "yard-secrets.wav").write_bytes(b"voices")
    build = [sys.executable, "-m", "build", "-q", "--sdist", "--outdir", tmp_path, copy]
    subprocess.run(build, check=True)
    with tarfile.open(next(tmp_path.glob("*.tar.gz"))) as archive:
        names = archive.getnames()
    tops = {name.split("/")[1] for name in names if "/" in name}
    assert {"callout", "grammars", "tests", "README.md"} <= tops
    assert "yard-secrets.wav" not in tops
    kept = copy / "audio_fixtures" / "day.journal.audio" / "kim.flac"
    kept.parent.mkdir()
    kept.write_bytes(b"voices")  # in a folder that is packed whole
    refused = subprocess.run([word for word in build if word != "-q"], capture_output=True, text=True)
    assert refused.returncode != 0
    assert "audio_fixtures/day.journal.audio/kim.flac" in refused.stdout + refused.stderr


@pytest.mark.slow
@pytest.mark.timeout(900)
@pytest.mark.skipif(
    shutil.which("unshare") is None or os.geteuid() != 0, reason="a network namespace needs unshare and root"
)
def test_a_laptop_without_a_network_is_set_up_from_a_stick(tmp_path: Path) -> None:
    stick, laptop = tmp_path / "stick", tmp_path / "laptop"
    make(stick)
    subprocess.run([sys.executable, "-m", "venv", laptop], check=True)
    alone = ["unshare", "--net"]
    install = [*alone, laptop / "bin" / "python", "-m", "pip", "install", "-q", "--no-index", "--find-links", stick]
    subprocess.run([*install, "callout"], check=True, cwd=tmp_path)
    demo = subprocess.run(
        [*alone, laptop / "bin" / "callout", "demo"], cwd=tmp_path, capture_output=True, text=True, timeout=300
    )
    assert demo.returncode == 0, demo.stderr
    assert "affirm" in demo.stdout
