"""The plain console: every word of either side, with the time and who."""

import io

from callout.console.record_lines import PlainConsole
from callout.dialogue.records import Record

AT = "2031-05-04T15:12:03.250+02:00"


class Terminal(io.StringIO):
    def isatty(self):
        return True


def shown(*records, stream=None):
    stream = stream or io.StringIO()
    console = PlainConsole(stream)
    for record in records:
        console.show(record)
    return stream.getvalue()


def test_a_line_has_the_time_who_and_the_words():
    text = shown(
        Record(time=AT, event="heard", speaker="measurer", text="insertion eleven feet sixty"),
        Record(time=AT, event="readback", speaker="callout", text="one one feet, eleven feet"),
    )
    assert text == (
        "15:12:03  measurer    insertion eleven feet sixty\n15:12:03  callout     one one feet, eleven feet\n"
    )


def test_no_words_reach_the_terminal_as_orders_to_it():
    text = shown(Record(time=AT, event="heard", speaker="x\x1b[2J", text="status\x1b]0;mine\x07\tnow\x9b31m\r\n"))
    assert text == "15:12:03  x\ufffd[2J       status\ufffd]0;mine\ufffd now\ufffd31m\ufffd\ufffd\n"
    turned = shown(Record(time=AT, event="heard", speaker="x", text="set \u202ethgie\u2066 aside"))
    assert turned == "15:12:03  x           set \ufffdthgie\ufffd aside\n"


def test_a_released_build_brings_its_parts_list_and_what_is_short():
    build = {
        "parts": [
            {"item": 1, "quantity": 2, "name": "eight foot strut", "where": "rack B"},
            {"item": 2, "quantity": 12, "name": "picket", "where": ""},
        ],
        "missing": [{"part": "anchor", "text": "4 brick anchors"}],
    }
    lines = shown(Record(time=AT, event="released", build_id=1, build=build)).splitlines()
    assert lines[0] == "15:12:03  callout     build 1 released"
    assert [line.strip() for line in lines[1:]] == [
        "1.   2 x eight foot strut  (rack B)", "2.  12 x picket", "SHORT: 4 brick anchors",
    ]  # fmt: skip


def test_what_happened_without_words_is_told_too():
    text = shown(
        Record(time=AT, event="picked", speaker="logistics", build_id=2, data={"pieces": [["picket", 8]]}),
        Record(time=AT, event="stock_changed", speaker="logistics",
               data={"changes": [{"item": "picket", "delta": -3, "quantity": 5}]}),
        Record(time=AT, event="heard", speaker="measurer"),
    )  # fmt: skip
    assert "build 2: picked 8 x picket" in text
    assert "stock: picket -3" in text
    assert "(nothing understood)" in text


def test_a_build_is_called_by_the_number_it_was_released_under():
    text = shown(
        Record(time=AT, event="released", build_id=1, data={"number": 7}),
        Record(time=AT, event="picked", build_id=1, data={"pieces": [["picket", 8]]}),
    )
    assert "build 7 released" in text
    assert "build 7: picked 8 x picket" in text


def test_words_heard_so_far_are_wiped_away_on_a_terminal_and_not_shown_in_a_file():
    terminal, file = Terminal(), io.StringIO()
    for stream in (terminal, file):
        console = PlainConsole(stream)
        console.heard_so_far("insertion eleven")
        console.show(Record(time=AT, event="heard", speaker="measurer", text="insertion eleven feet"))
        console.close()
    assert "... insertion eleven\r\x1b[K15:12:03" in terminal.getvalue()
    assert file.getvalue() == "15:12:03  measurer    insertion eleven feet\n"


def test_a_note_names_the_voice_file():
    stream = io.StringIO()
    PlainConsole(stream).note("voice: 0001-copy.wav")
    assert stream.getvalue() == "          -           voice: 0001-copy.wav\n"


def test_a_long_line_keeps_its_words_whole_and_goes_on_under_them(monkeypatch):
    monkeypatch.setenv("COLUMNS", "50")
    record = Record(time=AT, event="said", speaker="callout",
                    text="this board needs an upper-diagonal of fifty four inches before load")  # fmt: skip
    terminal = shown(record, stream=Terminal())
    assert terminal.splitlines() == [
        "15:12:03  callout     this board needs an", "                      upper-diagonal of fifty four",
        "                      inches before load",
    ]  # fmt: skip
    assert len(shown(record).splitlines()) == 1, "a file keeps its lines"


def test_a_long_line_of_a_parts_list_goes_on_under_the_name_of_the_part(monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    parts = [{"item": 19, "quantity": 1, "name": "2x6 timber, 20 ft", "where": "timber bay 2x6"}]
    record = Record(time=AT, event="released", build_id=1, build={"parts": parts})
    assert shown(record, stream=Terminal()).splitlines()[1:] == [
        "                       19.   1 x 2x6 timber, 20 ft  (timber", "                                 bay 2x6)",
    ]  # fmt: skip
