"""What a talker's recordings with known words teach: bars of the decision, each held against recordings left out.

The odds that a reading is right, as the decision of all three has them, are moved by one number for each stake: the
likeliest one, under a prior that it is near 0. A recording is then judged by what the others taught, and what does not
lower the stated loss on them is left as it was.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Protocol

from callout.channel.level import Samples
from callout.errors import BadInput, CalloutError
from callout.hearing.agreement import DecisionSettings, settings, stake_of, together
from callout.hearing.agreement_of_three import weigh_three
from callout.hearing.evidence import Evidence
from callout.hearing.judge import judge, reader, settled
from callout.hearing.voices import EASIER, HARDER, KnownVoice, VoiceFigures, decisions_digest, shifted
from callout.language.context import EVERYTHING, Context
from callout.scoring import verdict
from callout.scoring.manifest import Entry, find_manifest, read_manifest, survey
from callout.values import meaning_json

#: What a wrong one costs where asking again costs 1, by its stake (docs/hearing.md).
WRONG = {"callout": 50, "command": 50, "harmless": 5, "digits": 5}
STAKES = ("callout", "command", "harmless")  # digits serve the scoring alone
#: How far one talker's odds lie from those of all, in log-odds (a standard deviation). A choice, not measured: so small
#: that 25 callouts, all right at log-odds of 3, move the bar by 0.2, and with one of them wrong by less than 0.1.
SPREAD = 0.5
FEWEST = 20  # recordings; with fewer the prior is all there is

Shift = Mapping[str, float]


class EvidentEars(Protocol):
    """Ears that say what they go by, as `callout.hearing.ears.Ears`."""

    def evidence(self, samples: Samples, context: Context = EVERYTHING) -> Evidence: ...
    def asked(self, evidence: Evidence, context: Context = EVERYTHING) -> Evidence: ...


@dataclass(frozen=True)
class KnownHearing:
    """A recording with known words, heard: what two ears say, and what all three say. `truth` is a published meaning,
    None for no callout; `apart` names what is left out together."""

    apart: str
    truth: dict[str, Any] | None
    two: Evidence
    three: Evidence

    @functools.cached_property
    def odds(self) -> tuple[str, float, bool] | None:
        """The stake of the likeliest meaning, the log-odds that all its parts are right, and whether they are."""
        found = weigh_three(self.three, reader(), settings()) if self.three.third else None
        if found is None:
            return None
        right = self.truth is not None and verdict.bare(meaning_json(found.meaning)) == verdict.bare(self.truth)
        return found.parts[0].stake, together([part.log_odds for part in found.parts]), right


@dataclass(frozen=True)
class LearnedVoice:
    """`shift` of what helped (empty: nothing did), and the figures of the recordings left out."""

    shift: dict[str, float]
    before: VoiceFigures
    after: VoiceFigures
    helped: dict[str, VoiceFigures]  # by stake: what its bar alone comes to

    @property
    def useful(self) -> bool:
        return bool(self.shift)


def hear_all(folder: Path, ears: EvidentEars, read: Callable[[Path], Samples], meant: Callable[[str], Any],
             step: Callable[[], object] = lambda: None) -> list[KnownHearing]:  # fmt: skip
    """Every recording of a folder, heard. Raises BadInput for a file that cannot be read, CalloutError where the third
    opinion does not answer."""
    entries = list(read_manifest(find_manifest(folder)))
    several = len({entry.speaker for entry in entries}) > 1
    heard = []
    for entry in entries:
        two = ears.evidence(read(folder / entry.file))
        three = ears.asked(two)
        if three.mute:
            raise CalloutError(f"a voice is learned from all three opinions ({three.mute}); see: callout check")
        truth = entry.meaning if entry.given else verdict.meaning_of_words(entry.words, meant)
        heard.append(KnownHearing(_apart(entry, several), truth, two, three))
        step()
    return heard


def _apart(entry: Entry, several: bool) -> str:
    """Sentences that were said twice are left out together; of several talkers each is left out whole."""
    return entry.speaker if several else entry.words


def learn(heard: Sequence[KnownHearing]) -> LearnedVoice:
    """Which bars the recordings move for the better. Raises BadInput where there are too few to learn from."""
    if len(heard) < FEWEST:
        raise BadInput(f"{len(heard)} recordings are too few to learn a voice from; record forty (callout record)")
    if len({one.apart for one in heard}) < 2:
        raise BadInput("the recordings all say the same; record forty different sentences (callout record)")
    before, was = _counted(heard, lambda _: {})
    left_out = _learned_without(heard)
    helped = {}

    def without(*stakes: str) -> Callable[[str], Shift]:
        return lambda apart: _only(left_out[apart], stakes)

    for stake in STAKES:
        figures, loss = _counted(heard, without(stake))
        if figures.wrong <= before.wrong and loss < was:
            helped[stake] = figures
    after, loss = _counted(heard, without(*helped))
    if not helped or after.wrong > before.wrong or loss >= was:
        return LearnedVoice({}, before, after, {})
    return LearnedVoice(_only(likeliest(_odds(heard)), helped), before, after, helped)


def kept_of(name: str, folder: Path, learned: LearnedVoice, recordings: int) -> KnownVoice:
    """What is kept of a talker."""
    return KnownVoice(
        name=name, learned=date.today().isoformat(), recordings=recordings, manifest=survey(find_manifest(folder))[1],
        decisions=decisions_digest(), shift=learned.shift, before=learned.before, after=learned.after,
    )  # fmt: skip


def likeliest(odds: Iterable[tuple[str, float, bool]]) -> dict[str, float]:
    """The likeliest shift of each bar, to 0.001: the posterior mode of a logistic's offset with a normal prior."""
    points = list(odds)
    return {
        stake: _likeliest([(log_odds, right) for one, log_odds, right in points if one == stake], EASIER[stake])
        for stake in STAKES
    }


def _likeliest(points: Sequence[tuple[float, bool]], easier: float) -> float:
    from scipy.optimize import minimize_scalar

    def cost(offset: float) -> float:
        told = sum(math.log1p(math.exp(-_signed(log_odds + offset, right))) for log_odds, right in points)
        return told + offset**2 / (2 * SPREAD**2)

    if not points:
        return 0.0
    found = minimize_scalar(cost, bounds=(-HARDER, max(easier, 1e-6)), method="bounded")
    return max(-easier, min(HARDER, -round(float(found.x), 3)))


def _signed(log_odds: float, right: bool) -> float:
    bounded = max(-30.0, min(30.0, log_odds))
    return bounded if right else -bounded


def _odds(heard: Iterable[KnownHearing]) -> Iterator[tuple[str, float, bool]]:
    return (one.odds for one in heard if one.odds is not None)


def _learned_without(heard: Sequence[KnownHearing]) -> dict[str, dict[str, float]]:
    """What all teach but those that are left out together."""
    return {
        apart: likeliest(_odds(one for one in heard if one.apart != apart))
        for apart in dict.fromkeys(one.apart for one in heard)
    }


def _only(shift: Shift, stakes: Iterable[str]) -> dict[str, float]:
    return {stake: shift[stake] for stake in stakes if shift[stake]}


def _counted(heard: Sequence[KnownHearing], shift_of: Callable[[str], Shift]) -> tuple[VoiceFigures, int]:
    """The figures, each recording judged by the shift of those left out with it, and the stated loss of them."""
    right = asked = wrong = loss = 0
    for one in heard:
        chosen = shifted(settings(), shift_of(one.apart))
        found, cost = _judged(one, chosen)
        loss += cost
        wrong += found == "wrong_accepted"
        if one.truth is not None:
            right += found == "right"
            asked += found in ("asked_again", "not_heard")
    return VoiceFigures(right=right, asked=asked, wrong=wrong), loss


def _judged(one: KnownHearing, chosen: DecisionSettings) -> tuple[verdict.Verdict, int]:
    """The verdict as `Ears.hear` would come to it, and what it costs."""
    resolution = judge(one.two, EVERYTHING, chosen, surely=True)[0]
    if not settled(resolution):
        resolution = judge(one.three, EVERYTHING, chosen)[0]
    found = verdict.judge(one.truth, resolution.outcome, meaning_json(resolution.meaning))
    if found == "wrong_accepted":
        assert resolution.meaning is not None
        return found, WRONG[stake_of(resolution.meaning, chosen)]
    return found, int(found != "right")
