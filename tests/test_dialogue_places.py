"""Facts of the place by voice, and pieces moved between builds when somebody says so.

That timber rakers beside hold the wall through the waler while a strut raker is moved is common practice, no source.
What each fact does to a shore is tested with the planner.
"""

from __future__ import annotations

import pytest

from callout.dialogue.events import Opened, Resumed, Uttered
from callout.dialogue.machine import restore, start
from callout.dialogue.records import Role
from callout.dialogue.settings import load_settings
from callout.dialogue.state import context, holdings, on_hand
from callout.language.resolve import resolve_text
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.values import Callout
from tests.dialogue_kit import ELEVEN_SIXTY, FakePlanner, Talk, ft, make_stock


def proper(**settings: object) -> Talk:
    """A conversation with the planner proper and the packaged stock."""
    talk = Talk(start(load_stock(), ShorePlanner(), load_settings(**settings)))
    return talk.put(Opened(0.0))


def said(talk: Talk, *lines: str, role: Role = "measurer") -> Talk:
    for line in lines:
        talk.time += 1.0
        talk.put(Uttered(resolve_text(line, context(talk.now, role)), line, role, talk.time, True))
    return talk


def stand(talk: Talk) -> Talk:
    talk.stand()
    return talk


# --- facts


@pytest.mark.parametrize(
    ("line", "read_back", "known"),
    [
        ("wall block", "wall block", {"wall": "block"}),
        ("ground clay", "ground clay", {"soil": "clay"}),
        ("curb six inches", "curb six inches", {"curb": "6 in"}),
        ("curb at eleven feet", "curb at one one feet, eleven feet", {"curb_at": "11 ft"}),
        ("ground up twelve inches", "ground up one foot", {"uneven": "1 ft"}),
        ("ground down four inches", "ground down four inches", {"uneven": "-4 in"}),
        ("timber beside", "timber beside", {"timber_beside": True}),
    ],
)
def test_a_fact_is_read_back_and_counts_from_its_affirmative_on(
    line: str, read_back: str, known: dict[str, object]
) -> None:
    talk = said(proper(), line)
    assert talk.said == [f"site. {read_back}, for what is called next. affirm, or negative."]
    assert not talk.now.site
    assert talk.events == ["heard", "readback"]
    said(talk, "affirm")
    assert talk.events == ["heard", "affirmed", "site_changed"]
    assert talk.records[-1].data["facts"].keys() == known.keys()
    said(talk, "insertion ten feet sixty")
    assert f"; {read_back}. over" in talk.said[0]
    said(talk, "affirm")
    site = talk.now.open[1].build.site
    assert {name: getattr(value, "text", value) for name, value in site if value is not None} == known


def test_a_fact_reaches_the_planner() -> None:
    brick = said(proper(), "wall brick", "affirm", "insertion eleven feet sixty", "affirm").now.open[1].build
    timber = said(proper(), "wall timber", "affirm", "insertion eleven feet sixty", "affirm").now.open[1].build
    assert {part.name for part in brick.parts} != {part.name for part in timber.parts}
    assert "wall" not in {choice.part for choice in brick.chosen}


def test_a_fact_that_nobody_affirmed_is_none() -> None:
    talk = said(proper(), "wall timber", "negative", "insertion eleven feet sixty")
    assert "wall timber" not in talk.said[0]
    assert talk.count("site_changed") == 0


def test_facts_go_with_the_callout_that_was_read_back() -> None:
    """Logistics learns something between the measurer's readback and its affirmative: that was not read back."""
    talk = said(proper(one_source=False), "insertion eleven feet sixty")
    said(talk, "wall timber", "affirm", role="logistics")
    said(talk, "affirm")
    assert talk.now.open[1].build.site.wall is None
    said(talk, "insertion nine feet sixty")
    assert "; wall timber. over" in talk.said[0]


def test_a_later_fact_replaces_the_same_one_and_a_new_site_forgets_all() -> None:
    talk = said(proper(), "wall brick", "affirm", "curb six inches", "affirm", "wall block", "affirm")
    assert "; wall block; curb six inches. over" in said(talk, "insertion nine feet sixty").said[0]
    said(talk, "disregard", "no curb", "affirm")
    again = said(talk, "insertion nine feet sixty")
    assert again.said[0].endswith("sixty degrees; no curb. over.")  # what is new of it
    said(talk, "disregard", "new site")
    assert "is forgotten" in talk.said[0]
    said(talk, "affirm", "insertion nine feet sixty")
    assert talk.said == ["insertion: nine feet; sixty degrees; new site. over."]


def test_a_fact_of_one_build_plans_that_build_again_and_says_the_difference() -> None:
    talk = said(proper(), "insertion eleven feet sixty", "affirm", "ground down four inches build one")
    assert talk.said == ["site. ground down four inches, at build one. affirm, or negative."]
    before = talk.now.open[1].build
    said(talk, "affirm")
    assert talk.said[1].startswith("yard. build one changes. ")
    assert "lengths to set or to cut are new" in talk.said[1]
    assert talk.said[-1].startswith("item one.")
    after = talk.now.open[1].build
    assert after.setting != before.setting
    assert after.site.uneven == ft(0, -4)
    assert not talk.now.site  # of that build alone


def test_a_fact_under_which_a_build_cannot_stand_says_so() -> None:
    talk = said(proper(), "insertion two feet sixty", "affirm", "ground up two feet build one", "affirm")
    assert talk.now.open[1].build.refused is not None
    assert "yard. build one changes. " in talk.said[1]
    assert on_hand(talk.now) == on_hand(proper().now)


def test_a_crash_between_the_fact_and_the_new_plan_is_made_good() -> None:
    talk = said(proper(), "insertion eleven feet sixty", "affirm", "ground down four inches build one", "affirm")
    place = [record.event for record in talk.records].index("site_changed")
    again = Talk(restore(talk.records[: place + 1], load_stock(), ShorePlanner()))
    assert again.now.open[1].stale
    again.put(Resumed(0.0))
    assert not again.now.open[1].stale
    assert again.now.open[1].build.setting == talk.now.open[1].build.setting


def test_after_a_restart_what_is_known_of_the_place_is_said() -> None:
    talk = said(proper(), "wall block", "affirm", "curb six inches", "affirm")
    again = Talk(restore(talk.records, load_stock(), ShorePlanner())).put(Resumed(0.0))
    assert again.said == ["started again. known of the place: wall block; curb six inches."]


def test_a_fact_voids_what_waits_and_says_so() -> None:
    talk = said(proper(), "insertion eleven feet sixty", "wall brick")
    assert talk.said[0] == "the callout that waited is void. say it again after this."
    assert said(talk, "affirm", "affirm").count("released") == 0
    talk = said(proper(), "insertion eleven feet", "wall brick")
    assert talk.said[0] == "the callout that waited is void. say it again after this."


def test_what_is_no_build_and_no_fact_is_refused() -> None:
    assert said(proper(), "wall brick build two").said == ["build two is not open."]
    talk = said(proper(), "insertion eleven feet sixty", "affirm", "new site build one")
    assert talk.said == ["that is for what is called next, not for one build."]


# --- relocation


def test_timber_beside_keeps_the_waler_where_it_is_when_the_shore_moves() -> None:
    talk = stand(said(proper(), "timber beside", "affirm", "insertion eleven feet sixty", "affirm"))
    waler = [part.name for part in talk.now.standing[1].build.parts if part.use == "waler"]
    assert waler
    said(talk, "relocate", "insertion nine feet sixty")
    assert "the timber rakers beside stay pressed to the wall" in talk.said[0]
    said(talk, "affirm")
    assert "every wedge against the waler tight" in talk.now.open[2].plan["steps"][0]["text"]
    held = talk.now.standing[1].held
    stand(talk)
    assert all(talk.now.standing[1].held[name] == held[name] for name in waler)  # it stays behind, and booked
    assert not any(name in sentence for sentence in talk.said for name in waler if "put back" in sentence)
    assert said(talk, "status").said == ["build one, eleven feet, sixty, stands."]


def test_without_a_waler_timber_beside_holds_nothing() -> None:
    talk = stand(said(proper(), "insertion eleven feet sixty", "affirm"))
    assert said(talk, "timber beside build one").said == ["build one stands, and that changes nothing there."]
    said(talk, "relocate", "insertion nine feet sixty")
    assert "the new support comes first" in talk.said[0]


def test_timber_rakers_that_are_gone_put_the_move_on_the_safe_branch() -> None:
    talk = stand(said(proper(), "timber beside", "affirm", "insertion eleven feet sixty", "affirm"))
    said(talk, "no timber beside build one", "affirm", "relocate", "insertion nine feet sixty")
    assert "the new support comes first" in talk.said[0]


# --- a piece moved between builds


def two_builds() -> Talk:
    """Two six foot struts in the yard: build one has them, build two is short of them."""
    return said(
        Talk.new(make_stock(six=2, eight=0)), "insertion eleven feet sixty", "affirm", "insertion twelve feet sixty",
        "affirm",
    )  # fmt: skip


def test_a_move_is_read_back_with_what_it_does_and_done_when_affirmed() -> None:
    talk = two_builds()
    assert talk.now.open[2].plan["missing"]
    said(talk, "move two six foot struts to build two")
    assert talk.said == [
        "move two struts, six feet, from build one to build two. "
        "build one is then short of two struts, five feet six inches. affirm, or negative."
    ]
    said(talk, "affirm")
    assert talk.said[0].startswith("yard. build one changes. ")
    assert talk.said[1].startswith("yard. build two changes. fetch two struts, six feet.")
    assert holdings(talk.now).builds[2]["six foot strut"].reserved == 2
    assert "six foot strut" not in holdings(talk.now).builds[1]
    assert talk.now.open[1].plan["missing"]
    assert not talk.now.open[2].plan["missing"]


def test_nothing_moves_unasked() -> None:
    talk = two_builds()
    said(talk, "build two", "next", "we have twelve brick anchors", "affirm")
    assert holdings(talk.now).builds[1]["six foot strut"].reserved == 2
    assert said(talk, "move two six foot struts to build two", "negative").said == ["not affirmed. nothing changes."]
    assert holdings(talk.now).builds[1]["six foot strut"].reserved == 2


def test_what_is_picked_stays_where_it_is() -> None:
    talk = said(two_builds(), "ready", "move one six foot strut to build two")
    assert talk.said == ["no other build has six foot struts promised and not picked."]


def test_a_build_that_lacks_nothing_takes_nothing() -> None:
    talk = said(two_builds(), "move one brick anchor to build two")
    assert talk.said == ["build two has no use for brick anchors."]


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("move one strut to build one", "no other build has struts promised and not picked."),
        ("move one gusset to build two", "no other build has gussets promised and not picked."),
    ],
)
def test_a_move_that_cannot_be_says_why(line: str, answer: str) -> None:
    assert said(two_builds(), line).said == [answer]


def test_the_build_in_the_walk_gives_else_the_last_that_can() -> None:
    talk = said(
        Talk.new(make_stock(six=4, eight=0)), "insertion eleven feet sixty", "affirm", "insertion twelve feet sixty",
        "affirm", "insertion ten feet sixty", "disregard", "insertion eleven feet six sixty", "affirm",
    )  # fmt: skip
    assert talk.now.focus == 1
    assert "from build one to build three" in said(talk, "move two six foot struts to build three").said[0]
    said(talk, "negative", "build two")
    assert "from build two to build three" in said(talk, "move two six foot struts to build three").said[0]


def test_a_crash_in_a_move_leaves_no_piece_promised_twice() -> None:
    talk = said(two_builds(), "move two six foot struts to build two", "affirm")
    stock, records = make_stock(six=2, eight=0), talk.records
    first = next(i for i, r in enumerate(records) if r.event == "affirmed" and r.meaning is None)
    for cut in range(first, len(records) + 1):
        again = Talk(restore(records[:cut], stock, FakePlanner())).put(Resumed(0.0))
        assert not holdings(again.now).overpromised()
        promised = [holdings(again.now).builds[b].get("six foot strut") for b in (1, 2)]
        assert sum(held.reserved for held in promised if held is not None) == 2


def test_what_is_known_of_the_site_is_read_back_once_and_when_it_changes() -> None:
    talk = said(Talk.new(), "wall brick", "affirm").say(ELEVEN_SIXTY)
    assert talk.said[0].endswith("sixty degrees; wall brick. over.")
    talk.say(ELEVEN_SIXTY)
    assert talk.said == ["the same callout. insertion: one one feet, eleven feet; sixty degrees. over."]
    said(talk, "disregard", "wall block", "affirm")
    assert talk.say(Callout(insertion=ft(8), angle_deg=45)).said[0].endswith("wall block. over.")
