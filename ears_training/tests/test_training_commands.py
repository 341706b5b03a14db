"""The training's commands: each one that docs/training.md names exists, and takes the options that it shows."""

import re
from pathlib import Path

import pytest

from ears_training.__main__ import steps

GUIDE = (Path(__file__).parents[2] / "docs" / "training.md").read_text(encoding="utf-8")
SHOWN = sorted(set(re.findall(r"^python -m ears_training ([a-z][a-z-]*)(.*)$", GUIDE, re.MULTILINE)))


def test_the_guide_shows_every_step():
    assert {name for name, _ in SHOWN} == set(steps.commands)


@pytest.mark.parametrize(("name", "rest"), SHOWN, ids=[f"{name} {rest.split('#')[0].strip()}" for name, rest in SHOWN])
def test_a_step_takes_the_options_that_the_guide_shows(name, rest):
    known = {option for parameter in steps.commands[name].params for option in parameter.opts}
    assert set(re.findall(r"--[a-z]+", rest.split("#")[0])) <= known
