"""A second laptop's journal: each of its lines is counted once, whoever brings it and however often."""

import shutil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from callout.dialogue.records import Record
from callout.errors import BadInput
from callout.journal import Journal
from callout.journal.merge import merge


def write(path, *records):
    with Journal.open(path) as journal:
        for record in records:
            journal.append(record)
    return path


def picked(build, quantity=1):
    return Record(
        event="picked", speaker="logistics", build_id=build, data={"line": 0, "pieces": [["strut", quantity]]}
    )


def released(build, **data):
    return Record(
        event="released", build_id=build, meaning={"angle_deg": 60}, build={"parts": []},
        data={"number": build, "role": "measurer", "name": None, **data},
    )  # fmt: skip


def taken(journal):
    """Pieces picked: a sum that double counting would change."""
    return sum(
        quantity for record in journal.records() if record.event == "picked" for _, quantity in record.data["pieces"]
    )


def test_lines_are_taken_over_once(tmp_path):
    write(tmp_path / "a", picked(1, 2))
    write(tmp_path / "b", picked(1, 3), picked(2, 4))
    with Journal.open(tmp_path / "a") as a, Journal.open(tmp_path / "b", writer=False) as b:
        assert merge(a, b).added == 2
        assert taken(a) == 9
        again = merge(a, b)
        assert (again.added, again.known) == (0, 2)
        assert taken(a) == 9
        assert a.verify().ok


def test_what_was_written_since_the_last_merge_is_added(tmp_path):
    write(tmp_path / "a", picked(1))
    write(tmp_path / "b", picked(1))
    for expected in (2, 3):
        with Journal.open(tmp_path / "a") as a, Journal.open(tmp_path / "b", writer=False) as b:
            merge(a, b)
            assert taken(a) == expected
        write(tmp_path / "b", picked(1))


def test_round_three_laptops_and_back_each_line_counts_once(tmp_path):
    for name, count in zip("abc", (1, 10, 100), strict=True):
        write(tmp_path / name, picked(1, count))
    for into, other in ("ba", "cb", "ac", "ba", "ca"):
        with Journal.open(tmp_path / into) as here, Journal.open(tmp_path / other, writer=False) as there:
            merge(here, there)
    for name in "abc":
        with Journal.open(tmp_path / name, writer=False) as journal:
            assert taken(journal) == 111
            assert journal.verify().ok


def test_lines_keep_their_origin_number_hash_time_and_words(tmp_path):
    write(tmp_path / "a", picked(1), picked(1))
    write(tmp_path / "b", picked(1, 7))
    with Journal.open(tmp_path / "a") as a, Journal.open(tmp_path / "b", writer=False) as b:
        merge(a, b)
        theirs, here = next(b.lines()), list(a.lines())[-1]
        assert (here.origin, here.origin_seq, here.origin_hash) == (b.origin, 1, theirs.hash)
        assert here.body == theirs.body
        assert here.seq == 3
        assert a.last_record().time == b.last_record().time


def test_their_builds_get_free_numbers_and_keep_them(tmp_path):
    write(tmp_path / "a", released(1), released(2))
    write(tmp_path / "b", released(1), picked(1))
    with Journal.open(tmp_path / "a") as a, Journal.open(tmp_path / "b", writer=False) as b:
        assert merge(a, b).builds == {1: 3}
    write(tmp_path / "b", picked(1), released(2, relocates=1))
    with Journal.open(tmp_path / "a") as a, Journal.open(tmp_path / "b", writer=False) as b:
        assert merge(a, b).builds == {1: 3, 2: 4}
        assert [record.build_id for record in a.records()] == [1, 2, 3, 3, 3, 4]
        last = a.last_record()
        assert (last.data["number"], last.data["relocates"]) == (4, 3)


def test_their_conversation_stays_theirs(tmp_path):
    waiting = Record(event="readback", text="one one feet", data={"seat": "measurer", "pending": {"kind": "callout"}})
    alarm = Record(event="alarm", text="evacuate", data={"halted": "evacuate"})
    write(tmp_path / "a", picked(1))
    write(tmp_path / "b", waiting, alarm)
    with Journal.open(tmp_path / "a") as a, Journal.open(tmp_path / "b", writer=False) as b:
        merge(a, b)
        merged = list(a.records(since=1))
        assert [record.text for record in merged] == ["one one feet", "evacuate"]
        assert [record.data for record in merged] == [{}, {}]


def test_two_copies_written_to_apart_are_refused(tmp_path):
    write(tmp_path / "a", picked(1))
    shutil.copy(tmp_path / "a", tmp_path / "copy")
    write(tmp_path / "a", picked(1))
    write(tmp_path / "copy", picked(2))
    with Journal.open(tmp_path / "a") as a, Journal.open(tmp_path / "copy", writer=False) as copy:
        with pytest.raises(BadInput, match="written to apart"):
            merge(a, copy)
        assert a.last_seq == 2


def test_an_honest_copy_adds_nothing(tmp_path):
    write(tmp_path / "a", picked(1), picked(2))
    shutil.copy(tmp_path / "a", tmp_path / "copy")
    with Journal.open(tmp_path / "a") as a, Journal.open(tmp_path / "copy", writer=False) as copy:
        assert (merge(a, copy).added, merge(a, copy).known) == (0, 2)


def test_a_broken_chain_is_refused(tmp_path):
    import sqlite3

    write(tmp_path / "a", picked(1))
    write(tmp_path / "b", picked(1), picked(1))
    connection = sqlite3.connect(tmp_path / "b")
    connection.execute("DELETE FROM line WHERE seq = 1")
    connection.commit()
    connection.close()
    with Journal.open(tmp_path / "a") as a, Journal.open(tmp_path / "b", writer=False) as b:
        with pytest.raises(BadInput, match="nothing was merged"):
            merge(a, b)
        assert a.last_seq == 1


steps = st.lists(
    st.tuples(st.sampled_from("abc"), st.sampled_from(["write", "from a", "from b", "from c"])), max_size=12
)


@settings(max_examples=25, deadline=None)
@given(steps=steps)
def test_whatever_is_merged_into_whatever_each_journal_holds_each_line_once(steps, tmp_path_factory):
    """Against a model in which a journal is a set of names of lines."""
    folder = tmp_path_factory.mktemp("merge")
    model = {name: set() for name in "abc"}
    count = 0
    for name, what in steps:
        if what == "write":
            count += 1
            with Journal.open(folder / name) as journal:  # the conversation gives a new build the next free number
                free = max((record.build_id for record in journal.records()), default=0) + 1
                journal.append(Record(event="heard", text=f"{name} {count}", build_id=free))
            model[name].add(f"{name} {count}")
        elif what[-1] != name and (folder / what[-1]).exists():
            with Journal.open(folder / name) as here, Journal.open(folder / what[-1], writer=False) as there:
                assert merge(here, there).added == len(model[what[-1]] - model[name])
            model[name] |= model[what[-1]]
    for name, expected in model.items():
        if (folder / name).exists():
            with Journal.open(folder / name, writer=False) as journal:
                texts = [record.text for record in journal.records()]
                assert sorted(texts) == sorted(expected)
                assert journal.verify().ok
                numbers = {(record.text[0], record.build_id) for record in journal.records()}
                assert len({number for _, number in numbers}) == len(numbers), "no two laptops' builds share a number"


def test_a_fact_of_their_build_is_a_fact_of_it_here_and_their_place_is_not_ours(tmp_path):
    def fact(build_id, **facts):
        return Record(event="site_changed", build_id=build_id, data={"seat": "measurer", "facts": facts})

    write(tmp_path / "a", released(1))
    write(tmp_path / "b", released(1), fact(1, timber_beside=False), fact(None, wall="block"))
    with Journal.open(tmp_path / "a") as a, Journal.open(tmp_path / "b", writer=False) as b:
        merge(a, b)
        facts = [record for record in a.records() if record.event == "site_changed"]
    assert [(record.build_id, record.data) for record in facts] == [
        (2, {"facts": {"timber_beside": False}}), (None, {}),
    ]  # fmt: skip
