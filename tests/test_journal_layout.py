"""A journal written by any released version can be read by this one. `tests/data/journal_v*.sqlite` are never changed:
each was written by the version that first had that layout, and the .json beside it says what is in it.
"""

import json
import shutil
import sqlite3
from pathlib import Path

import pytest

from callout.errors import BadInput
from callout.journal import Journal
from callout.journal.database import APPLICATION, STEPS, VERSION, bring_forward

DATA = Path(__file__).parent / "data"
RELEASED = sorted(DATA.glob("journal_v*.sqlite"))


def test_every_released_layout_has_its_file():
    assert [path.stem for path in RELEASED] == [f"journal_v{version}" for version in range(1, VERSION + 1)]
    assert max(STEPS) == VERSION


@pytest.mark.parametrize("path", RELEASED, ids=lambda path: path.stem)
@pytest.mark.parametrize("writer", [True, False])
def test_a_released_file_reads_whole_and_goes_on(path, writer, tmp_path):
    expected = json.loads(path.with_suffix(".json").read_text())
    copy = shutil.copy(path, tmp_path / "yard.journal")
    with Journal.open(copy, writer=writer) as journal:
        assert journal.origin == expected["origin"]
        assert [record.model_dump(mode="json") for record in journal.records()] == expected["records"]
        assert [line.note for line in journal.lines()] == expected["notes"]
        assert journal.verify().ok
        if writer:
            last = journal.append(next(journal.records()))
            assert last.seq == len(expected["records"]) + 1
            assert journal.verify().ok


def columns(path):
    return [row[1] for row in sqlite3.connect(path).execute("PRAGMA table_info(line)")]


def add_column(connection):
    connection.execute("ALTER TABLE line ADD COLUMN weather TEXT")


def break_down(connection):
    add_column(connection)
    raise sqlite3.OperationalError("the power is gone")


def test_a_step_forward_keeps_every_line(tmp_path):
    copy = shutil.copy(RELEASED[-1], tmp_path / "yard.journal")
    connection = sqlite3.connect(copy, isolation_level=None)
    before = connection.execute("SELECT * FROM line").fetchall()
    assert bring_forward(connection, copy, {**STEPS, VERSION + 1: add_column}) == VERSION
    after = connection.execute("SELECT * FROM line").fetchall()
    assert [row[:-1] for row in after] == before
    assert connection.execute("PRAGMA user_version").fetchone() == (VERSION + 1,)
    connection.close()
    with pytest.raises(BadInput, match="newer callout"):
        Journal.open(copy)


def test_a_step_that_breaks_down_leaves_the_old_file(tmp_path):
    copy = shutil.copy(RELEASED[-1], tmp_path / "yard.journal")
    connection = sqlite3.connect(copy, isolation_level=None)
    with pytest.raises(sqlite3.OperationalError):
        bring_forward(connection, copy, {**STEPS, VERSION + 1: break_down})
    connection.close()
    assert "weather" not in columns(copy)
    with Journal.open(copy) as journal:
        assert journal.verify().ok


def test_several_steps_are_taken_in_order(tmp_path):
    taken = []
    steps = {**STEPS, VERSION + 1: lambda c: taken.append(1), VERSION + 2: lambda c: taken.append(2)}
    connection = sqlite3.connect(tmp_path / "new", isolation_level=None)
    assert bring_forward(connection, tmp_path / "new", steps) == 0
    assert taken == [1, 2]
    assert connection.execute("PRAGMA user_version").fetchone() == (VERSION + 2,)
    assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION,)
    assert bring_forward(connection, tmp_path / "new", steps) == VERSION + 2
    assert taken == [1, 2]
