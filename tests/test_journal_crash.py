"""The journal under kill -9, on a disk that is really full and in a folder that is really read-only."""

import random
import shutil
import subprocess
import sys
import textwrap

import pytest
from proof_journal import Tally, kill_many, kill_once

from tests.how_much import examples

KILLS = examples(20, 10)


def test_a_killed_writer_loses_nothing_it_confirmed(tmp_path):
    tally = kill_many(tmp_path, KILLS, seed=8)
    assert tally.kills == KILLS
    assert tally.confirmed > 3 * KILLS, "the writers were killed before they wrote anything worth losing"
    assert (tally.lost, tally.broken_chains) == (0, 0)
    assert tally.unconfirmed_kept <= KILLS


def test_the_check_would_notice_a_lost_line(tmp_path, monkeypatch):
    """The proof itself is checked: a journal that forgets its last line must be found out."""
    from callout.journal import Journal

    records = Journal.records
    monkeypatch.setattr(Journal, "records", lambda self, since=0: iter(list(records(self, since))[:-2]))
    tally = Tally()
    chance = random.Random(1)
    for run in range(3):
        kill_once(tmp_path / "j", run, chance, tally)
    assert tally.lost > 0


def in_small_disk(tmp_path, program, setup=""):
    """Run a program with the folder `disk` mounted as a disk of its own, 512 KB small."""
    unshare = shutil.which("unshare")
    if unshare is None or subprocess.run([unshare, "-rm", "true"], capture_output=True).returncode:
        pytest.skip("this system lets no test mount a disk of its own (needs unshare -rm)")
    disk = tmp_path / "disk"
    disk.mkdir()
    script = tmp_path / "program.py"
    script.write_text(textwrap.dedent(program))
    mount = f"mount -t tmpfs -o size=512k none {disk} && {setup or 'true'} && {sys.executable} {script} {disk}"
    done = subprocess.run([unshare, "-rm", "sh", "-c", mount], capture_output=True, text=True, timeout=60)
    if "mount:" in done.stderr:
        pytest.skip("this system lets no test mount a disk of its own")
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_a_disk_that_is_really_full(tmp_path):
    out = in_small_disk(
        tmp_path,
        """
        import sys
        from pathlib import Path
        import callout.journal.memory as memory
        from callout.dialogue.records import Record
        from callout.journal import Journal, open_journal
        memory.RETRY = 0.0
        disk, told = Path(sys.argv[1]), []
        journal = open_journal(disk / "j", told.append)
        for number in range(400):
            assert journal.append(Record(event="heard", text=f"{number} " + "x" * 2000)).seq == number + 1
        print(len(told), told[0])
        print(journal.waiting > 0)
        print([r.seq for r in journal.records()] == list(range(1, 401)))
        with Journal.open(disk / "j", writer=False) as kept:
            print(kept.verify().ok, kept.last_seq == 400 - journal.waiting)
        """,
    )
    assert out[0].startswith("1 ")
    assert "the disk is full" in out[0] or "fails" in out[0]
    assert out[1:] == ["True", "True", "True True"]


def test_a_folder_that_is_really_read_only(tmp_path):
    program = """
        import sys
        from pathlib import Path
        from callout.dialogue.records import Record
        from callout.journal import Journal, open_journal
        disk, told = Path(sys.argv[1]), []
        journal = open_journal(disk / "j", told.append)
        print(journal.append(Record(event="heard", text="two")).seq, [r.text for r in journal.records()])
        print(len(told), told[0])
        with Journal.open(disk / "j", writer=False) as reader:
            print(reader.verify())
        """
    write = "from callout.journal import *; from callout.dialogue.records import Record; import sys; "
    write += "j = Journal.open(sys.argv[1]); j.append(Record(event='heard', text='one')); j.close()"
    (tmp_path / "write.py").write_text(write)
    disk = tmp_path / "disk"
    write = f"{sys.executable} {tmp_path / 'write.py'} {disk / 'j'}"
    setup = f"{write} && rm -f {disk}/*.lock && mount -o remount,ro {disk}"
    out = in_small_disk(tmp_path, program, setup)
    assert out[0] == "2 ['one', 'two']"
    assert out[1].startswith("1 cannot write a journal in")
    assert "Going on in memory only" in out[1]
    assert out[2] == "ChainVerdict(lines=1, problem='')"
