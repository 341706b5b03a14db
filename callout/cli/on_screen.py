"""The live conversation on the full screen."""

from __future__ import annotations

from callout.console.picture import Picture, picture
from callout.console.screen import ScreenConsole
from callout.session.desk import Desk
from callout.session.live_ears import Ear
from callout.session.opening import Choices, open_desk
from callout.session.sources import Hands, Source, converse


def converse_on_screen(choices: Choices, sources: list[Source], ears: list[Ear], keep_audio: bool) -> None:
    """Show the screen until every source is at its end or somebody ends it."""
    desks: list[Desk] = []
    hands = Hands()
    console = ScreenConsole(
        picture=lambda: picture(desks[0].conversation) if desks else Picture(),
        on_key=hands.keys.put,
        on_typed=hands.lines.put,
    )

    def work() -> None:
        with open_desk(choices, console) as desk:
            desks.append(desk)
            beside = choices.journal if keep_audio and desk.writes else None
            converse(desk, sources, ears, console, audio_beside=beside, hands=hands)

    console.run(work)
