"""The seconds of the talk, on the sound of the voice at its default pace. The bounds are the specification's; all the
figures: `python -m tests.bench talk`."""

from __future__ import annotations

from tests.bench_talk import BOUNDS, Talk, seconds, until_item


def test_a_readback_and_each_detail_more(voice):
    plain = seconds(Talk(voice).say("insertion eleven feet sixty"))
    assert plain <= BOUNDS["readback of height and angle"]
    for detail in ("two rakers", "wall height twenty feet", "position two"):
        longer = seconds(Talk(voice).say(f"insertion eleven feet sixty {detail}"))
        assert plain < longer <= plain + BOUNDS["a detail more"], detail


def test_from_the_affirm_to_the_end_of_item_one(voice):
    talk = Talk(voice)
    talk.say("insertion eleven feet sixty")
    assert 3.0 < until_item(talk.say("affirm")) <= BOUNDS["affirm to the end of item one"]
