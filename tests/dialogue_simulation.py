"""People who call out through noisy ears, for the proof of the dialogue.

Words go in; they come out right, wrong, in doubt or not at all, as often as was measured on the shipped ears
(`tests/data/noisy_ear.toml`), and go through the real resolver in the real context. The measurer knows what they want,
listens to every readback, and never affirms a wrong one.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from callout.dialogue.events import Input, Key, Opened, Say, Tick, Uttered
from callout.dialogue.machine import start, step
from callout.dialogue.records import Record, Role
from callout.dialogue.settings import load_settings
from callout.dialogue.state import context
from callout.files import read_toml
from callout.language.context import Context
from callout.language.outcome import Ambiguous, Hypothesis, Nothing, Resolution, Understood
from callout.language.outcome import MeaningPart as HeardPart
from callout.language.pronunciation import phone_distance, prons, twins
from callout.language.resolve import resolve
from callout.language.speak import speak_angle, speak_length
from callout.shoring.plan import Planner
from callout.shoring.stock import Stock
from callout.values import Callout, Length, Meaning
from tests.dialogue_kit import FakePlanner, make_stock
from tests.noisy_ear import TABLE_FILE, Counts, rates, upper

TABLE = read_toml(TABLE_FILE)
CHANNELS = {channel["name"]: channel for channel in TABLE["channel"]}
CONDITIONS = tuple(CHANNELS)
PEOPLE = TABLE["people"]
BARE = (
    "affirm", "negative", "ready", "next", "skip", "back", "short", "undo", "stop", "disregard", "correction",
    "evacuate", "status", "roger", "hold", "list", "repeat", "help",
)  # fmt: skip


def _counts(channel: dict[str, Any], kind: str) -> Counts:
    entry = channel[kind]
    return Counts(entry["n"], entry["right"], entry["wrong"])


def _together() -> Counts:
    """The commands of all channels, each row of the measurement once: none of them is enough by itself."""
    once = {channel["commands"]["row"]: _counts(channel, "commands") for channel in CHANNELS.values()}
    return Counts(*(sum(column) for column in zip(*once.values(), strict=True)))


CALLOUTS = {name: rates(_counts(channel, "callouts")) for name, channel in CHANNELS.items()}
COMMANDS = {name: rates(_counts(channel, "commands"), _together()) for name, channel in CHANNELS.items()}
NOISE = upper(TABLE["noise"]["command"], TABLE["noise"]["n"])
#: Of parts heard in doubt twice with the same value: how many the second hearing takes, right and wrong.
TWICE = rates(Counts(**TABLE["heard_twice"]))


def _swaps() -> dict[str, list[str]]:
    table: dict[str, list[str]] = {}
    for twin in twins():
        if " " not in twin.one + twin.other:
            table.setdefault(twin.one, []).append(twin.other)
            table.setdefault(twin.other, []).append(twin.one)
    return table


SWAPS = _swaps()
NUMBERS = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen",
    "fourteen", "fifteen", "twenty", "thirty", "forty", "sixty",
)  # fmt: skip


@lru_cache(maxsize=200_000)
def understood(words: tuple[str, ...], where: Context) -> Resolution:
    return resolve([Hypothesis(words)], where)


def _agreed(result: Resolution) -> Resolution:
    if not isinstance(result, Understood):
        return result
    return replace(result, parts=tuple(replace(part, agreement="agreed") for part in result.parts))


#: How sure a part in doubt is; the share of those taken twice was measured for anything above 0.5.
IN_DOUBT = 0.9


def _in_doubt(meaning: Meaning, words: tuple[str, ...]) -> Resolution:
    """Right, and not sure of any part."""
    if not isinstance(meaning, Callout):
        return Ambiguous((meaning,), "command", words)
    parts = tuple(HeardPart(name, value, IN_DOUBT, "doubtful") for name, value in meaning.said.items())
    return Ambiguous((meaning,), next(iter(meaning.said)), words, parts)


@lru_cache(maxsize=200)
def _near(word: str) -> tuple[str, ...]:
    """The bare commands that a word can be taken for: half of the phones of the longer one agree."""
    phones = {other: max(len(way) for way in prons(other)) for other in (*BARE, word)}
    return tuple(
        other for other in BARE if other != word and phone_distance(word, other) * 2 <= max(phones[word], phones[other])
    )


TRIES = 12


@dataclass
class Ears:
    """The two ears and their judge on one channel: right, wrong or asked again as often as was measured."""

    channel: str
    chance: random.Random
    rough: bool = False  # a misheard command is taken for any other, however little it sounds like it

    def hear(self, words: tuple[str, ...], where: Context) -> Resolution:
        said = understood(words, where)
        called = any(word in NUMBERS for word in words)
        right, wrong = (CALLOUTS if called else COMMANDS)[self.channel]
        draw = self.chance.random()
        if draw < right:
            return _agreed(said)
        if draw < right + wrong:
            return self._taken_wrong(words, said, where)
        if isinstance(said, Understood) and self.chance.random() < TABLE["asked_again"]["in_doubt"]:
            return self._doubted(said, words, where)
        return Nothing()

    def _doubted(self, said: Understood, words: tuple[str, ...], where: Context) -> Resolution:
        """In doubt; where the same was in doubt before, that counts."""
        before = {guess.name: guess.value for guess in where.guesses}
        meaning = said.meaning
        if isinstance(meaning, Callout) and any(meaning.said.get(name) == value for name, value in before.items()):
            draw = self.chance.random()
            if draw < TWICE.right:
                return _agreed(said)
            if draw < TWICE.right + TWICE.wrong:
                return self._taken_wrong(words, said, where)
        return _in_doubt(meaning, words)

    def _taken_wrong(self, words: tuple[str, ...], said: Resolution, where: Context) -> Resolution:
        """What is taken is understood, and means something else: a swap that means nothing is drawn again."""
        for _ in range(TRIES):
            taken = self._wrong(words)
            heard = understood(taken, where) if taken else Nothing()
            if isinstance(heard, Understood) and heard.meaning != said.meaning:
                return _agreed(heard)
        return Nothing()

    def _wrong(self, words: tuple[str, ...]) -> tuple[str, ...]:
        """One number word taken for its twin or another number; without a number, a bare command that sounds like
        it, where there is one."""
        places = [place for place, word in enumerate(words) if word in NUMBERS]
        if not places:
            near = BARE if self.rough else _near(words[0])
            return (self.chance.choice(near),) if near else ()
        place = self.chance.choice(places)
        others = SWAPS.get(words[place], []) if self.chance.random() < 0.7 else []
        other = self.chance.choice([w for w in (others or NUMBERS) if w != words[place]])
        return (*words[:place], other, *words[place + 1 :])

    def noise(self, where: Context) -> Resolution:
        """Noise alone, taken for any bare command."""
        if self.chance.random() < NOISE:
            return _agreed(understood((self.chance.choice(BARE),), where))
        return Nothing()


@dataclass
class Outcome:
    """What came of one dialogue."""

    wanted: int = 0
    released: int = 0
    wrong: int = 0
    by_noise: int = 0  # the right build, but the affirmative was noise
    readbacks_wrong: int = 0
    turns: list[int] = field(default_factory=list)  # utterances of the measurer for each callout
    picked: int = 0
    unspoken: int = 0  # words spoken that are in no record

    @property
    def finished(self) -> bool:
        return len(self.turns) == self.wanted


class Dialogue:
    """One dialogue: a measurer with one to three callouts, a yard that walks what comes, noise between them."""

    def __init__(
        self, seed: int, condition: str, guard: str = "agreed_or_long", planner: Planner | None = None,
        stock: Stock | None = None, rough: bool = False,
    ) -> None:  # fmt: skip
        self.chance = random.Random(f"{condition} {guard} {seed}")
        self.ears = Ears(condition, self.chance, rough)
        self.stock = stock or make_stock(four=8, six=8, eight=8, anchors=40)
        settings = load_settings(one_source=self.chance.random() < 0.5, guard=guard)
        self.now = start(self.stock, planner or FakePlanner(), settings)
        self.time, self.outcome = 0.0, Outcome()
        self.intended: list[Callout] = []
        self.last: list[Record] = []
        self.put(Opened(0.0))

    def put(self, event: Input, *, noise: bool = False) -> None:
        self.now, effects = step(self.now, event)
        self.last = [effect for effect in effects if isinstance(effect, Record)]
        texts = {record.text for record in self.last}
        self.outcome.unspoken += sum(isinstance(effect, Say) and effect.text not in texts for effect in effects)
        for record in self.last:
            if record.event == "released":
                self.outcome.released += 1
                right = bool(self.intended) and Callout.model_validate(record.meaning) == self.intended[-1]
                self.outcome.wrong += not right
                self.outcome.by_noise += right and noise
            self.outcome.picked += record.event == "picked"

    def say(self, words: str, role: Role = "measurer") -> None:
        if self.chance.random() < PEOPLE["noise_before_an_utterance"]:
            self.noise()
        self.time += 3.0
        self.put(Tick(self.time))
        heard = self.ears.hear(tuple(words.split()), context(self.now, role))
        self.put(Uttered(heard, words, role, self.time))

    def noise(self) -> None:
        role: Role = self.chance.choice(["measurer", "logistics"])
        self.time += 2.0
        self.put(Uttered(self.ears.noise(context(self.now, role)), "", role, self.time), noise=True)

    def run(self) -> Outcome:
        self.outcome.wanted = self.chance.choice([1, 1, 2, 3])
        for number in range(self.outcome.wanted):
            self._call(number)
            self._walk()
        return self.outcome

    def _new_request(self, number: int) -> Callout:
        inches = self.chance.choice([0, 0, 0, 3, 6, 9])
        return Callout(
            insertion=Length.imperial(self.chance.randint(6, 15), inches),
            angle_deg=self.chance.choice([45, 60]), position=number + 1 if self.chance.random() < 0.3 else None,
        )  # fmt: skip

    def _call(self, number: int) -> None:
        """The measurer calls until the build is released, answering what the tool says."""
        want = self._new_request(number)
        while any(want.insertion == build.request.insertion for build in self.now.open.values()):
            want = self._new_request(number)
        self.intended.append(want)
        before, fickle = self.outcome.released, self.chance.random() < PEOPLE["changes_mind"]
        self.say(_half(want) if self.chance.random() < PEOPLE["says_half"] else words_for(want, self.chance))
        for turn in range(1, PEOPLE["most_turns"]):
            if self.outcome.released > before:
                self.outcome.turns.append(turn)
                return
            want, words, fickle = self._answer(want, fickle)
            if words:
                self.say(words)
            else:
                self.time += 7.0
                self.put(Tick(self.time))
                self.put(Tick(self.time + 14.0))
                self.time += 14.0

    def _answer(self, want: Callout, fickle: bool) -> tuple[Callout, str, bool]:
        """What the measurer says to what is now waiting. They listen to the readback, not to what they hope for."""
        if self.chance.random() < PEOPLE["asks_for_a_repeat"]:
            return want, "say again", fickle
        if self.chance.random() < PEOPLE["speaks_out_of_turn"]:
            return want, self.chance.choice(["ready", "roger", "status", "over", "hold"]), fickle
        if self.now.halted:
            return want, "go ahead", fickle
        seat = self.now.seat("measurer")
        if seat.pending is not None:
            read = seat.pending.request
            if seat.pending.kind not in ("callout", "change"):
                return want, "negative", fickle  # the yard's, and this is the measurer
            if read != want or seat.pending.kind != "callout":
                self.outcome.readbacks_wrong += 1
                return want, _mend(read, want, self.chance), fickle
            if fickle and want.angle_deg is not None:
                changed = want.model_copy(update={"angle_deg": 105 - want.angle_deg})
                self.intended[-1] = changed
                return changed, f"correction angle {speak_angle(changed.angle_deg or 0)[0]}", False
            long = any(r.text == "say affirm insertion." for r in self.last) or self.chance.random() < 0.1
            return want, "affirm insertion" if long else self.chance.choice(["affirm", "yes", "affirmative"]), fickle
        if seat.asked == "angle_deg":
            return want, f"angle {speak_angle(want.angle_deg or 0)[0]}", fickle
        if seat.parked is not None:
            return want, "read back", fickle
        if seat.half is not None and seat.asked is None:
            return want, "", fickle
        return want, words_for(want, self.chance), fickle

    def _walk(self) -> None:
        """The yard keys its way through the items; sometimes it speaks."""
        for _ in range(self.chance.randint(0, 12)):
            build = self.now.walked
            if build is None:
                return
            if self.chance.random() < 0.1:
                words = self.chance.choice(["where", "how many left", "say again", "short", "back", "skip"])
                self.say(words, "logistics")
            else:
                self.time += 4.0
                self.put(Key("ready", "logistics", self.time))


def words_for(want: Callout, chance: random.Random) -> str:
    """A callout as somebody says it: digit by digit, or grouped."""
    form = chance.choice([0, 1])
    length, angle = speak_length(want.insertion or Length(0))[form], speak_angle(want.angle_deg or 0)[form]
    position = "" if want.position is None else f" position {['one', 'two', 'three'][want.position - 1]}"
    return f"insertion {length} angle {angle}{position}"


def _half(want: Callout) -> str:
    return f"insertion {speak_length(want.insertion or Length(0))[1]}" + (
        "" if want.position is None else f" position {['one', 'two', 'three'][want.position - 1]}"
    )


def _mend(read: Callout | None, want: Callout, chance: random.Random) -> str:
    """Correct the wrong part, or say no and call again."""
    if read is None or read.position != want.position or chance.random() < 0.3:
        return chance.choice(["negative", "disregard"])
    if read.angle_deg != want.angle_deg and read.insertion == want.insertion:
        return f"correction angle {speak_angle(want.angle_deg or 0)[0]}"
    if read.angle_deg == want.angle_deg:
        return f"correction insertion {speak_length(want.insertion or Length(0))[1]}"
    return "negative"


def simulate(count: int, condition: str, guard: str = "agreed_or_long", **rooms: Any) -> tuple[Counter[str], list[int]]:
    """Run `count` dialogues; returns the sums over all of them and the turns of every callout."""
    sums: Counter[str] = Counter()
    turns: list[int] = []
    for seed in range(count):
        outcome = Dialogue(seed, condition, guard, **rooms).run()
        sums.update(
            dialogues=1, wanted=outcome.wanted, finished=outcome.finished, released=outcome.released,
            wrong=outcome.wrong, by_noise=outcome.by_noise, readbacks_wrong=outcome.readbacks_wrong,
            picked=outcome.picked, unspoken=outcome.unspoken,
        )  # fmt: skip
        turns += outcome.turns
    return sums, turns
