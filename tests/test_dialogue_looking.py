"""Looks at standing shores by voice: readings, limits, who signed; what makes every shore due at once."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest

from callout.dialogue.events import Say
from callout.dialogue.following import follow
from callout.dialogue.machine import step
from callout.dialogue.records import WasInspected
from callout.dialogue.watch import CARE, watch
from callout.journal.handover import as_text, handover
from callout.language.outcome import Understood
from callout.language.resolve import resolve_text
from callout.values import Command, Length
from callout.values.sights import Looked, MarkReading
from tests.dialogue_kit import Talk
from tests.test_dialogue_restart import again

INCH = Length.imperial(inches=1)
QUARTER = Length.imperial(sixteenths=4)


def reading(kind: str, value: Length, mark: str = "") -> MarkReading:
    return MarkReading.model_validate({"mark": mark or kind, "kind": kind, "value": value})


FINDINGS = {
    "check build one plumb two inches": Looked(readings=(reading("plumb", Length.imperial(inches=2)),)),
    "check crack one quarter inch": Looked(readings=(reading("crack", QUARTER),)),
    "check crack three sixteenths inch": Looked(readings=(reading("crack", Length.imperial(sixteenths=3)),)),
    "check mark bravo crack five millimetres": Looked(readings=(reading("crack", Length.mm(5), "bravo"),)),
    "check level zero": Looked(readings=(reading("level", Length(0)),)),
    "check all tight": Looked(tight=True),
    "check not tight signed squad three": Looked(tight=False, signed="squad three"),
    "check all tight seen by engine two": Looked(tight=True, signed="engine two"),
    "check all tight signed by engine two": Looked(tight=True, signed="engine two"),
    "inspection build one, crack 1/4 in, all tight, signed team two": Looked(
        readings=(reading("crack", QUARTER),), tight=True, signed="team two"
    ),
}


@pytest.mark.parametrize("words", FINDINGS)
def test_a_finding_means_what_it_says(words: str) -> None:
    found = resolve_text(words)
    assert isinstance(found, Understood), found
    assert isinstance(found.meaning, Command)
    assert found.meaning.look == FINDINGS[words]


def standing() -> Talk:
    """Build one stands."""
    talk = Talk.new().released()
    talk.say(Command(command="stands", build=1)).say("affirm")
    assert talk.now.standing
    return talk


def look(talk: Talk, **of: object) -> Talk:
    return talk.say(Command(command="look", look=Looked(**of)))  # type: ignore[arg-type]


def test_a_look_in_pieces_is_booked_once_it_is_signed_with_all_that_was_said() -> None:
    talk = look(look(standing(), readings=(reading("crack", QUARTER),)), tight=True)
    assert "inspected" not in talk.events
    talk = look(again(talk), signed="team two")
    what = talk.records[-1].what
    assert isinstance(what, WasInspected)
    assert Looked.model_validate(what.look) == Looked(
        readings=(reading("crack", QUARTER),), tight=True, signed="team two"
    )
    assert not talk.now.looking


def test_a_reading_over_its_limit_warns_both_sides_at_once_and_is_not_booked_as_fine() -> None:
    """The limit of a crack is an eighth of an inch (rules/aftercare.toml, from memory)."""
    talk = look(standing(), readings=(reading("crack", QUARTER),), signed="team two")
    assert not [text for text in talk.said if "warning" in text]
    talk = look(talk, readings=(reading("crack", Length.imperial(sixteenths=6)),))
    assert talk.said[-1].startswith("warning. build one. crack: moved one eighth inch, the limit is one eighth inch")
    talk = look(talk, signed="team two")
    assert any("it is not fine" in text for text in talk.said)


def test_the_warning_goes_to_both_and_first() -> None:
    talk = look(standing(), readings=(reading("crack", QUARTER),), signed="team two")
    meaning = Command(command="look", look=Looked(readings=(reading("crack", INCH),)))
    from callout.dialogue.events import Uttered

    _, effects = step(talk.now, Uttered(Understood(meaning, ()), "words", "logistics", 99.0, certain=True))
    warning = [one for one in effects if isinstance(one, Say) and one.text.startswith("warning")]
    assert [(one.to, one.kind) for one in warning] == [("both", "warning")]


def stamped(talk: Talk, every: float = 10.0) -> list[object]:
    """The lines as a journal gives them, so many minutes apart."""
    begin = datetime(2026, 11, 29, 12, 0, tzinfo=timezone.utc)
    return [
        record.model_copy(update={"seq": n + 1, "time": (begin + timedelta(minutes=every * n)).isoformat()})
        for n, record in enumerate(talk.records)
    ]


def test_what_is_over_its_limit_is_looked_at_within_the_hour_and_what_was_loose_at_once() -> None:
    fine = look(standing(), readings=(reading("crack", QUARTER),), tight=True, signed="team two")
    over = look(fine, readings=(reading("crack", INCH),), tight=True, signed="team two")
    for talk, minutes in ((over, 60),):
        records = stamped(talk)
        care = watch(records)  # type: ignore[arg-type]
        (build_id,) = care.shores
        at = care.shores[build_id].looks[-1].at
        assert care.due(build_id, at).minutes == minutes
    loose = look(over, tight=False, signed="team two")
    care = watch(stamped(loose))  # type: ignore[arg-type]
    (build_id,) = care.shores
    assert care.due(build_id, care.shores[build_id].looks[-1].at).minutes == 0


def test_a_reading_over_its_limit_counts_before_anybody_signs_it() -> None:
    talk = look(standing(), readings=(reading("crack", QUARTER),), tight=True, signed="team two")
    talk = look(talk, readings=(reading("crack", INCH),))
    records = stamped(talk)
    (shore,) = follow(records).board().standing  # type: ignore[arg-type]
    assert shore.look_begun
    assert len(shore.warnings) == 1
    assert "everybody out" in as_text(handover(talk.now, records, False), "yard")  # type: ignore[arg-type]
    care = watch(records)  # type: ignore[arg-type]
    (build_id,) = care.shores
    begun = care.shores[build_id].begun
    assert begun is not None
    assert care.due(build_id, begun.at).minutes == 60
    loose = stamped(look(talk, tight=False))
    care = watch(loose)  # type: ignore[arg-type]
    begun = care.shores[build_id].begun
    assert begun is not None
    assert care.due(build_id, begun.at).minutes <= 0


def test_a_line_that_tells_nothing_of_a_shore_is_passed_over_unread() -> None:
    """Nothing of it is parsed: neither its time nor what it holds could be."""
    records = stamped(look(standing(), tight=True, signed="team two"))
    spoilt = [
        record if record.event in CARE else record.model_copy(update={"time": "no time", "data": {"seat": "nobody"}})  # type: ignore[attr-defined]
        for record in records
    ]
    assert watch(spoilt) == watch(records)  # type: ignore[arg-type]
    assert watch(spoilt).shores  # type: ignore[arg-type]


def test_board_and_handover_tell_of_it() -> None:
    talk = look(standing(), readings=(reading("crack", QUARTER),), tight=True, signed="team two")
    talk = look(talk, readings=(reading("crack", INCH),), tight=False, signed="squad three")
    talk = look(talk, readings=(reading("plumb", INCH),))
    records = stamped(talk)
    (shore,) = follow(records).board().standing  # type: ignore[arg-type]
    assert shore.signed == "squad three"
    assert shore.look_begun
    assert len(shore.warnings) == 2
    sheet = as_text(handover(talk.now, records, False), "yard")  # type: ignore[arg-type]
    assert "signed squad three" in sheet
    assert "NOT TIGHT" in sheet
    assert "a look is begun, and not signed" in sheet
    assert "everybody out" in sheet


@pytest.mark.parametrize("reason", ["aftershock", "wind", "change", "nonsense"])
def test_what_happened_makes_every_shore_due_at_once(reason: str) -> None:
    talk = look(standing(), tight=True, signed="team two").say(Command(command="happened", part=reason))
    care = watch(stamped(talk))  # type: ignore[arg-type]
    (build_id,) = care.shores
    assert care.due(build_id, care.happened[-1].at).minutes == 0


def test_without_a_shore_or_with_two_it_is_asked_which() -> None:
    assert look(Talk.new(), tight=True).said[-1] == "no build stands yet."
    talk = standing().released()
    talk.say(Command(command="stands", build=2)).say("affirm")
    assert look(talk, tight=True).said[-1] == "which build? say check, and its number."
