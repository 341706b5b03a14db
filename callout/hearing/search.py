"""The search: the best ways through a phone graph for an utterance's phone scores, with their words and times.

Viterbi in numpy. Runs of frames in which the ear hears nothing but blank count as one frame; a first pass scores
the whole graph, a second runs backwards over the few nodes that came near the best, and from the two the best complete
path through each of these is known: the readings are the best path, then the best path through the best node that no
reading has used yet, and so on. So the first rival of each word is among them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callout.hearing.encoder import BLANK, FRAME, Scores
from callout.hearing.graph import PhoneGraph
from callout.hearing.search_passes import NEVER, Backward, Floats, Forward, Numbers

Ints = NDArray[np.int32]

BEAM = 30.0  # nodes that fell further behind the best than this are not searched for rivals
WIDEST = 1500  # nor more nodes than these, the nearest: in long noise all come near
TRACES = 24  # paths read back at most
SURE_BLANK = -0.03  # log probability of blank from which a frame holds no phone worth a frame of its own


@dataclass(frozen=True)
class HeardWord:
    """A word with its times in seconds, and its score against the best free phones, per phone (0 is perfect)."""

    word: str
    start: float
    end: float
    fit: float


@dataclass(frozen=True)
class SearchReading:
    """One way to read the utterance. `score` is its log probability, `fit` its fit per phone over the whole of it,
    `sound` its phones as columns of the scores."""

    words: tuple[str, ...]
    score: float
    fit: float
    sound: tuple[int, ...]
    heard: tuple[HeardWord, ...]


@dataclass(frozen=True)
class Squeezed:
    """Scores whose blank runs are one frame each; row i stands for the frames from `first[i]` to `first[i + 1]`."""

    scores: Scores
    first: Ints

    @property
    def free(self) -> Floats:
        best: Floats = self.scores.max(axis=1)
        return best


def squeeze(scores: Scores) -> Squeezed:
    """Join each run of blank frames into one row: blank throughout, or one phone once with blank around it."""
    blank = scores[:, BLANK] > SURE_BLANK
    starts = np.flatnonzero(~(blank & np.concatenate([[False], blank[:-1]])))
    runs = np.add.reduceat(scores[:, BLANK], starts)
    rows = np.maximum.reduceat(scores - scores[:, BLANK : BLANK + 1], starts, axis=0) + runs[:, None]
    return Squeezed(rows.astype(np.float32), np.append(starts, len(scores)).astype(np.int32))


class Searcher:
    """Searches one graph, any number of times. Not for two threads at once."""

    def __init__(self, graph: PhoneGraph) -> None:
        self.graph = graph
        self._forward = Forward(graph)

    def readings(self, squeezed: Squeezed, most: int = 8, reach: float = 20.0) -> list[SearchReading]:
        """The best readings, best first: at most `most`, none further than `reach` (nats) below the best."""
        scores, states = squeezed.scores, self.graph.states
        if not len(scores):
            return []
        nodes, leave = self._forward.run(scores)
        if leave[-1, self.graph.finals].max(initial=NEVER) <= NEVER / 2:
            return []
        blanks = leave[:-1, :states].max(axis=1) + scores[:, BLANK]
        floor = np.maximum(nodes.max(axis=1), blanks) - BEAM
        away = (floor[:, None] - nodes).min(axis=0)
        least = 0.0 if len(away) <= WIDEST else min(0.0, float(np.partition(away, WIDEST)[WIDEST]))
        backward = Backward(self.graph, np.flatnonzero(away <= least))
        return _Tracer(self.graph, self._forward, nodes, leave, backward, squeezed).readings(most, reach)


class _Tracer:
    """Reads paths back out of the two passes. A place is the number of a node, or -1 - q for the blank of state q."""

    def __init__(
        self, graph: PhoneGraph, forward: Forward, nodes: Floats, leave: Floats, backward: Backward, squeezed: Squeezed
    ) -> None:
        self.graph, self.squeezed = graph, squeezed
        self.forward, self.ahead, self.leave = forward, nodes, leave
        self.backward, (self.behind, self.behind_blank) = backward, backward.run(squeezed.scores)
        self.onward = self.behind + squeezed.scores[:, backward.label]
        self.came: dict[tuple[int, int], int] = {}  # (frame, place) -> the place before; paths share most steps
        self.goes: dict[tuple[int, int], int] = {}  # likewise the place after, numbered as in the second pass
        self.ways: dict[int, Numbers] = {}  # place -> nodes that can follow it
        self.spelt: dict[tuple[int, int, tuple[int, ...]], tuple[str, ...]] = {}

    def readings(self, most: int, reach: float) -> list[SearchReading]:
        whole = self.ahead[:, self.backward.kept] + self.behind
        if not whole.size:
            return []
        best_time = whole.argmax(axis=0)
        best = whole[best_time, np.arange(whole.shape[1])]
        top = float(best.max())
        if top <= NEVER / 2:  # every complete path falls out of the beam: nothing in the grammar sounds like this
            return []
        found: dict[tuple[str, ...], SearchReading] = {}
        covered = np.zeros(len(self.graph.label), bool)
        traced = 0
        for node in np.argsort(-best).tolist():
            if best[node] < top - reach or len(found) >= most or traced >= TRACES:
                break
            if covered[self.backward.kept[node]]:
                continue
            traced += 1
            path = self._path(int(best_time[node]), node)
            covered[path[path >= 0]] = True
            for reading in self._read(path, float(best[node])):
                found.setdefault(reading.words, reading)
        return sorted(found.values(), key=lambda reading: -reading.score)

    def _path(self, t: int, node: int) -> Ints:
        """(frames,) the places of the best path through a node of the second pass at frame `t`."""
        kept, states = self.backward.kept, self.backward.kept_states
        path = np.empty(len(self.ahead), np.int32)
        path[t] = here = int(kept[node])
        for u in range(t - 1, -1, -1):
            if (u, here) not in self.came:
                self.came[u, here] = self._before(u, here)
            here = path[u] = self.came[u, here]
        here = node
        for u in range(t + 1, len(path)):
            if (u, here) not in self.goes:
                self.goes[u, here] = self._after(u, here)
            here = self.goes[u, here]
            path[u] = kept[here] if here >= 0 else -1 - states[-1 - here]
        return path

    def _before(self, t: int, here: int) -> int:
        """The place at frame `t` from which the best path comes to `here` in the next."""
        net, row = self.forward, self.ahead[t]
        source = -1 - here
        if here >= 0:
            sources = net.sources[net.sources_at[here] : net.sources_at[here + 1]]
            reached = self.leave[t + 1, sources]
            if not len(sources) or row[here] >= reached.max():
                return here
            source = int(sources[reached.argmax()])
        if source < net.states:
            state, low, high = source, net.nodes_at[source], net.nodes_at[source + 1]
            nodes = np.arange(low, high)
        else:
            clash = source - net.states
            state = int(net.clash_state[clash])
            nodes = net.others[net.others_at[clash] : net.others_at[clash + 1]]
        blank = self.leave[t, state] + self.squeezed.scores[t, BLANK]
        if not len(nodes) or blank > row[nodes].max():
            return -1 - state
        return int(nodes[row[nodes].argmax()])

    def _after(self, t: int, here: int) -> int:
        """The place at frame `t` to which the best path goes on from `here` in the frame before."""
        net, row = self.backward, self.onward[t]
        state = -1 - here if here < 0 else int(net.state[here])
        blank = self.behind_blank[t, state] + self.squeezed.scores[t, BLANK]
        if here not in self.ways:
            self.ways[here] = self._ways(here, state)
        nodes = self.ways[here]
        stay = row[here] if here >= 0 else blank
        on = row[nodes].max(initial=NEVER)
        if stay >= max(blank, on):
            return here
        return -1 - state if blank >= on else int(nodes[row[nodes].argmax()])

    def _ways(self, here: int, state: int) -> Numbers:
        net = self.backward
        if here < 0:
            clashes = net.state_clash[net.state_clash_at[state] : net.state_clash_at[state + 1]]
        else:
            clashes = net.node_clash[net.node_clash_at[here] : net.node_clash_at[here + 1]]
        found = [net.targets[net.targets_at[s] : net.targets_at[s + 1]] for s in (state, *clashes.tolist())]
        return np.concatenate(found)

    def _read(self, path: Ints, score: float) -> list[SearchReading]:
        """The words along a path; more than one reading where words of one sound are all allowed."""
        scores, first = self.squeezed.scores, self.squeezed.first
        place = path.tolist()
        labels = [int(self.graph.label[p]) if p >= 0 else BLANK for p in place]
        lost = np.concatenate([[0.0], np.cumsum(scores[np.arange(len(place)), labels] - self.squeezed.free)])
        sound: list[int] = []
        spans: list[tuple[tuple[str, ...], int, int, int]] = []
        phones: list[int] = []
        begin, last, since, previous = -1, self.graph.start, -1, None
        for t, p in enumerate(place):
            if p >= 0 and p != previous:
                if not phones:
                    begin = t
                phones.append(labels[t])
                sound.append(labels[t])
                since = t
                q = int(self.graph.state[p])
                if self.graph.word_state[q]:
                    word = (last, q, tuple(phones))
                    if word not in self.spelt:
                        self.spelt[word] = self.graph.spelling(*word)
                    spans.append((self.spelt[word], begin, t, len(phones)))
                    last, phones = q, []
            previous = p
            if p >= 0 and not phones and spans:
                spans[-1] = (*spans[-1][:2], max(spans[-1][2], t if p == place[since] else since), spans[-1][3])
        words: list[tuple[str, ...]] = [()]
        for same, *_ in spans:
            words = [(*w, s) for w in words for s in same][:4]
        overall = float(lost[-1]) / max(len(sound), 1)
        readings = []
        for choice in words:
            heard, edge = [], 0
            for (_, begin, end, size), said in zip(spans, choice, strict=True):
                fit = float(lost[end + 1] - lost[edge]) / size
                heard.append(HeardWord(said, float(first[begin]) * FRAME, float(first[end + 1]) * FRAME, fit))
                edge = end + 1
            readings.append(SearchReading(choice, score, overall, tuple(sound), tuple(heard)))
        return readings
