"""The page of a run: every recording in a table, worst first, with why; one file that opens without a network."""

import re
from datetime import datetime, timezone
from pathlib import Path

import numpy as np
import pytest
import soundfile

from callout import pages
from callout.scoring.evaluation import Scored
from callout.scoring.page import PEAKS, Sounds, bars, curve, matrix, page, table_rows, why, worst_first
from callout.scoring.report import build_report
from callout.scoring.run import ScoredRow
from callout.scoring.statistics import Tally
from tests.test_console_views import contrast

SETTINGS = {"recordings": 4, "manifest_sha256": "ab" * 32, "state": None, "listener": "ears",
            "conditions": ["", "radio generator 10 dB seed 3"]}  # fmt: skip


def row(number, verdict, **more):
    said = more.pop("said", "insertion eleven feet sixty")
    return ScoredRow(trial=number, file=f"{number:03d}.wav", condition="", snr_db=None, speaker="reader 1",
                     channel="radio", noise="", verdict=verdict, said=said, heard="insertion",
                     audio_us=1_500_000, **more)  # fmt: skip


ROWS = [
    row(1, "right"), row(2, "asked_again", reasons=["the ears disagree on the angle"], outcome="ambiguous"),
    row(3, "wrong_accepted", slots={"angle_deg": "wrong", "insertion": "right"}, said="<b>sixty</b>"),
    row(4, "not_heard", error="004.wav: no such file"),
]  # fmt: skip


@pytest.fixture
def folder(tmp_path):
    time = np.arange(16_000) / 16_000
    for number in (1, 2, 3):
        soundfile.write(tmp_path / f"{number:03d}.wav", 0.5 * time * np.sin(2 * np.pi * 440 * time), 16_000)
    return tmp_path


def made(folder, bundled=False, rows=None):
    tally = Tally()
    for one in ROWS:
        tally.add(one)
    report = build_report(tally, SETTINGS)
    sounds = Sounds(lambda one: folder / one.file, lambda path: path.name, bundled)
    return page(report, worst_first(rows or ROWS), sounds, made=datetime(2031, 5, 4, tzinfo=timezone.utc),
                options="callout score recordings --snr 10 --seed 3", version="9.8.7")  # fmt: skip


def test_the_table_has_every_recording_worst_first_with_why():
    assert [one.file for one in worst_first(ROWS)] == ["003.wav", "002.wav", "004.wav", "001.wav"]
    assert why(ROWS[1]) == "the ears disagree on the angle"
    assert why(ROWS[2]) == "angle deg wrong"
    assert why(ROWS[3]) == "could not be read"


def test_the_page_says_when_by_what_and_how_it_was_made(folder):
    text = made(folder)
    options = "callout score recordings --snr 10 --seed 3"
    for told in ("2031-05-04T00:00:00", options, "seed 3", "ab" * 32, "as recorded"):
        assert told in text
    assert "by callout 9.8.7" in text


def test_the_page_needs_no_network_and_keeps_words_words(folder):
    text = made(folder, bundled=True)
    assert not re.search(r"(src|href)=\"(?!data:)[^\"#]", text)
    assert "@import" not in text
    assert "<b>sixty</b>" not in text
    assert "&lt;b&gt;sixty" in text


def test_a_bundle_holds_the_sounds_and_a_plain_page_names_them(folder):
    bundle, plain = made(folder, bundled=True), made(folder)
    assert bundle.count("data:audio/wav;base64,") == 3
    assert 'data-sound="001.wav"' in plain
    assert "data:audio" not in plain


def test_a_bundle_stays_small_enough_to_mail(folder, monkeypatch):
    monkeypatch.setattr("callout.scoring.page.MOST_SOUND", 40_000)
    assert made(folder, bundled=True).count("data:audio") == 1, "32 kB each: one of them has room"


def test_a_waveform_shows_where_the_sound_is(folder):
    """The recording grows louder from nothing, so its peaks do."""
    (first, *_) = table_rows([ROWS[0]], Sounds(lambda one: folder / one.file, lambda path: path.name))
    heights = [float(found) for found in re.findall(r"M\d+ ([\d.]+)V", str(first["wave"]))]
    assert len(heights) == PEAKS
    assert heights[0] > 48
    assert heights[-1] < 2
    assert heights == sorted(heights, reverse=True)


def test_every_chart_is_told_to_a_screen_reader(folder):
    text = made(folder)
    charts = re.findall(r"<svg[^>]*>", text)
    assert charts
    for chart in charts:
        assert 'role="img"' in chart
        assert re.search(r'aria-label="[^"]{8,}"', chart)


def test_a_chart_keeps_its_own_name_whatever_its_bars_are_called(folder):
    """HTML-AAM: the name of a picture is its label, and a screen reader says it first."""
    share = {"share": 0.5, "low": 0.2, "high": 0.8}
    rows = [("reader 1", {"right": share, "wrong_accepted": share, "n": 2})]
    drawn = bars(rows, ("right", "wrong_accepted"), "Verdicts by speaker")
    assert re.search(r'<svg[^>]* aria-label="Verdicts by speaker\.', drawn)
    told = re.findall(r"<title>([^<]*)</title>", drawn)
    assert told == ["Verdicts by speaker", "right 50.0%", "wrong accepted 50.0%"]


def mixed(colour, ground, strength):
    """What is seen of a colour that is not opaque."""
    pairs = zip(*(bytes.fromhex(one[1:]) for one in (colour, ground)), strict=True)
    return "#" + "".join(f"{round(a * strength + b * (1 - strength)):02x}" for a, b in pairs)


@pytest.mark.parametrize(("ground", "ink"), [("#ffffff", "#000000"), ("#101418", "#f0f0f0")])
def test_charts_are_read_by_day_and_by_night_and_without_colours(ground, ink):
    """WCAG 2.2, 1.4.6 for letters (7:1) and 1.4.11 for what else is to be seen (3:1)."""
    share = {"share": 0.5, "low": 0.2, "high": 0.8}
    of_two = {"right": share, "wrong_accepted": {**share, "share": 0.25}, "n": 4}
    points = [{"channel": name, "snr_db": level, "right": share, "n": 4} for name in "abc" for level in (0, 10)]
    drawn = {
        "bars": bars([("reader 1", of_two)], ("right", "wrong_accepted"), "by speaker"), "curve": curve(points),
        "matrix": matrix([("five", "nine", 2), ("five", "five", 1)], ("five", "nine")),
    }  # fmt: skip
    css = Path(pages.__file__).with_name("page.css").read_text()
    assert ground in css.replace("#fff;", "#ffffff;")
    for name, svg in drawn.items():
        assert not re.search(r"<text[^>]*fill=", svg), f"{name}: letters have the colour of the page"
        for colour, strength in re.findall(r'(?:fill|stroke)="(#\w{6})"(?: fill-opacity="([\d.]+)")?', svg):
            if strength:
                assert contrast(ink, mixed(colour, ground, float(strength))) >= 7.0, (name, colour, strength)
            else:
                assert contrast(colour, ground) >= 3.0, (name, colour)
    assert "50% right, 25% wrong, n 4" in drawn["bars"]
    assert len(set(re.findall(r'stroke-dasharray="([^"]+)"', drawn["curve"]))) == 3


def test_merged_reports_have_a_table_of_the_worst(tmp_path):
    from callout.scoring.evaluation import write_files

    tally = Tally()
    for one in ROWS:
        tally.add(one)
    merged = Scored(build_report(tally, SETTINGS), lambda: iter(()))
    write_files(merged, tmp_path, None, ())
    assert "003.wav" in (tmp_path / "score.html").read_text()


def test_sorted_filtered_and_stepped_through_by_key_in_a_browser(folder):
    from tests.board_browser import browser

    path = folder / "score.html"
    path.write_text(made(folder, bundled=True), encoding="utf-8")
    with browser() as window:
        tab = window.new_page(color_scheme="dark")
        problems = []
        tab.on("pageerror", lambda problem: problems.append(str(problem)))
        tab.goto(path.as_uri())

        def shown():
            return [text[:7] for text in tab.locator("#rows tr:visible td:first-child").all_inner_texts()]

        assert shown() == ["003.wav", "002.wav", "004.wav", "001.wav"]
        tab.click("th[data-kind] button >> text=recording")
        assert shown() == ["001.wav", "002.wav", "003.wav", "004.wav"]
        tab.click("th[data-kind] button >> text=recording")
        assert shown()[0] == "004.wav"
        tab.select_option("#verdict", "asked_again")
        assert shown() == ["002.wav"]
        tab.select_option("#verdict", "")
        tab.fill("#words", "disagree")
        assert shown() == ["002.wav"]
        tab.fill("#words", "")
        tab.click("h1")
        tab.keyboard.press("j")
        assert tab.inner_text("tr.now td:first-child") == "004.wav"
        tab.keyboard.press("j")
        assert tab.inner_text("tr.now td:first-child") == "003.wav"
        tab.keyboard.press("k")
        tab.keyboard.press("j")
        assert tab.evaluate("document.getElementById('audio').src.startsWith('data:audio/wav')")
        assert tab.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(16, 20, 24)", "dark"
        assert problems == []
