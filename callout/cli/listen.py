"""`callout listen`: the conversation, live, from a recording as if live, or typed."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from callout.cli.board import board_of
from callout.cli.options import NumberWithin, ShortTime, ToneNames
from callout.console.keys import TalkKey
from callout.console.record_lines import Console
from callout.errors import BadInput
from callout.journal.store import default_path
from callout.session.opening import Choices, plain_or_json
from callout.session.sources import Hands, Source, listening, name_source
from callout.session.talk import Session
from callout.speaking.pacing import RATES
from callout.speaking.tones import Tone

if TYPE_CHECKING:
    from callout.session.large_screen import DeskBoard

T = TypeVar("T")


@click.command()
@click.option("--typed", is_flag=True, help="One utterance a line from standard input; no ear is loaded.")
@click.option("--from", "recording", type=click.Path(path_type=Path), help="A recording of any length, as if live.")
@click.option("--measurer", metavar="SOURCE", help="Where the measurer is heard: mic, mic:NAME, FILE, or typed.")
@click.option("--logistics", metavar="SOURCE", help="Where logistics is heard, likewise.")
@click.option("--stock", type=click.Path(path_type=Path), help="Your stock file; without it the invented stock.")
@click.option("--journal", type=click.Path(path_type=Path), help="Keep every event in this file; go on where it ends.")
@click.option("--mute", is_flag=True, help="Without the voice.")
@click.option("--voice-dir", type=click.Path(path_type=Path), help="Also keep every spoken sentence as WAV in here.")
@click.option("--pace", type=(NumberWithin(*RATES), NumberWithin(*RATES)), default=(100, 130), show_default=True,
              metavar="FIGURES WORDS", help="Words a minute of the voice: figures, and everything else.")
@click.option("--voice", type=click.Choice(["plain", "heart"]), default="plain", show_default=True,
              help="Which voice speaks; heart is a package of its own (callout[heart]).")
@click.option("--radio-out", metavar="DEVICE", help="Speak to the measurer on this output; the parts stay in the yard.")
@click.option("--vox-lead", type=ShortTime(), default="500ms", show_default=True, help="Lead tone that opens the key.")
@click.option("--radio-silence", type=ShortTime(), default="0s", show_default=True,
              help="Silence after the lead tone, for a radio that is slow to key.")
@click.option("--tones", type=ToneNames(), metavar="NAMES", help="Tones before sentences: all, none, or some of "
              "readback,not-heard,warning. Kept for the next start.")
@click.option("--guard", type=click.Choice(["agreed_or_long", "long", "agreed_and_long"]),
              help="What a heard affirm needs; only upward from the default (agreed_or_long).")
@click.option("--keep-audio", is_flag=True, help="Keep the sound of every utterance beside the journal.")
@click.option("--model", type=click.Path(path_type=Path), help="A Vosk model folder, or an installed recognizer.")
@click.option("--voices", default="", metavar="CALLSIGN",
              help="Judge by a talker's own voice (callout voices); measurer=A,logistics=B for each side.")
@click.option("--key-to-talk", is_flag=True,
              help="Hear only while F12 is held (push to talk), or from one press to the next.")
@click.option("--screen", is_flag=True, help="The large screen instead of lines; with --typed to rehearse.")
@click.option("--board", metavar="ADDRESS",
              help="The board for tablets at this address, as 0.0.0.0 or 0.0.0.0:8040; the yard may pair one.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object an event (schema: callout schema event).")
def listen(
    typed: bool, recording: Path | None, measurer: str | None, logistics: str | None, stock: Path | None,
    journal: Path | None, mute: bool, voice_dir: Path | None, pace: tuple[float, float], voice: str,
    radio_out: str | None, vox_lead: float, radio_silence: float, tones: tuple[Tone, ...] | None,
    guard: str | None, keep_audio: bool, model: Path | None, voices: str, key_to_talk: bool,
    screen: bool, board: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Hold the conversation: hear a callout, read it back, and only after "affirm" work out and speak the build.

    \b
    callout listen                                      the microphone, for everyone
    callout listen --typed --mute                       the same conversation by keyboard
    callout listen --from yard.wav --json               a recording, as if live
    callout listen --measurer mic:line --logistics mic  two people; only who called may affirm
    callout listen --key-to-talk                        hears only while F12 is held (push to talk)

    With one source a person relays and says (or keys) the affirm. In the walk through the parts list any key means
    ready, the same key twice or held means say again, F8 twice affirms what was read back, F4 to F7 make the voice
    slower, faster, softer, louder, F9 ends what paired tablets may do, Esc silences the voice, Ctrl-D ends.

    A typed line may name who speaks: "logistics: ready". With a journal the words are on disk before they are spoken,
    and a new start goes on where the last one ended. A microphone always has one ($CALLOUT_JOURNAL, or your folder
    for state); recordings and typed words have one when you name it.
    """
    if typed or recording:  # what is set once for the shift gives way to what is asked for now
        measurer, logistics = _asked_now("measurer", measurer), _asked_now("logistics", logistics)
        key_to_talk = bool(_asked_now("key_to_talk", key_to_talk))
    if typed or as_json:
        screen = bool(_asked_now("screen", screen))
    if typed and (recording or measurer or logistics):
        raise BadInput("--typed stands alone; for one typed side write: --measurer mic --logistics typed")
    if recording and (measurer or logistics):
        raise BadInput("--from stands alone; for one recorded side write: --measurer FILE --logistics typed")
    if screen and as_json:
        raise BadInput("--screen does not go with --json; leave one out")
    sources = _sources(typed, recording, measurer, logistics)
    if key_to_talk:
        sources = _keyed(sources, screen)
    if journal is None and any(source.what == "mic" for source in sources):
        journal = default_path()
    if keep_audio and journal is None:
        raise BadInput("--keep-audio needs a journal to keep it beside: add --journal FILE")
    choices = Choices(
        stock=stock, journal=journal, as_json=as_json, mute=mute, one_source=len(sources) == 1,
        voice_folder=voice_dir, radio_out=radio_out, vox_lead=vox_lead, guard=guard, pace=pace,
        radio_silence=radio_silence, tones=tones, voice=voice,
    )  # fmt: skip

    with listening(sources, model, _voices(voices, model)) as ears:

        def hold(console: Console, hands: Hands | None = None, shown: DeskBoard | None = None) -> None:
            with (
                Session.with_choices(choices, console) as session,
                board_of(session.desk, board, console.note, getattr(console, "notice", None), drawn=not screen),
            ):
                if shown is not None:
                    shown.desk = session.desk
                session.listen(*sources, ears=ears, keep_audio=keep_audio, hands=hands)

        if not screen:
            hold(plain_or_json(choices))
            return
        from callout.session.large_screen import show_on_screen

        only_typed = all(source.what == "typed" for source in sources)
        show_on_screen(hold, muted=mute, radio=radio_out or "", typing=only_typed)


def _voices(voices: str, model: Path | None) -> str:
    """Whose voices are judged by: nobody's where a model hears."""
    if model is None:
        return voices
    if _asked_now("voices", voices):
        raise BadInput("--voices is for the ears of the package; leave out --model")
    return ""


def _asked_now(name: str, value: T) -> T | None:
    """The option's value, unless it comes from the settings."""
    source = click.get_current_context().get_parameter_source(name)
    return None if source is click.core.ParameterSource.DEFAULT_MAP else value


def _keyed(sources: list[Source], screen: bool) -> list[Source]:
    """With the key to talk at the microphone beside the keyboard: the only one, or logistics'. A radio line has the
    radio's own key."""
    last = sources[-1]
    if last.what != "mic":
        raise BadInput("--key-to-talk is for a microphone beside this keyboard; leave it out, or name one: mic")
    if not screen and (not sys.stdin.isatty() or any(source.what == "typed" for source in sources)):
        raise BadInput("--key-to-talk needs the keys of a terminal; start it in one, or with --screen")
    return [*sources[:-1], replace(last, key=TalkKey())]


def _sources(typed: bool, recording: Path | None, measurer: str | None, logistics: str | None) -> list[Source]:
    if measurer or logistics:
        if not (measurer and logistics):
            raise BadInput("two sources are needed: --measurer SOURCE and --logistics SOURCE; one may be typed")
        if measurer == "typed" and logistics == "typed":
            raise BadInput("only one side can be typed; for both on one keyboard write: callout listen --typed")
        return [name_source(measurer, "measurer"), name_source(logistics, "logistics")]
    return [name_source("typed" if typed else str(recording) if recording else "mic", "measurer")]
