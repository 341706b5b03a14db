"""The search: the best ways through a phone graph for an utterance's phone scores, with their words and times.

Viterbi in numpy. Runs of frames in which the ear hears nothing but blank count as one frame; a first pass scores
the whole graph, a second runs backwards over the few nodes that came near the best, and from the two every node's
best complete path is known: the readings are the best path, then the best path through the best node that no
reading has used yet, and so on. So the first rival of each word is among them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callout.hearing.encoder import BLANK, FRAME, Scores
from callout.hearing.graph import PhoneGraph

Floats = NDArray[np.float32]
Ints = NDArray[np.int32]

NEVER = np.float32(-1e30)
BEAM = 30.0  # nodes that fell further behind the best than this are not searched for rivals
WIDEST = 1500  # nor more nodes than these, the nearest: in long noise all come near
MANY = 12  # choices from which an array is quicker than a loop
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
class Reading:
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
        self._net = _Net.whole(graph)

    def readings(self, squeezed: Squeezed, most: int = 8, reach: float = 20.0) -> list[Reading]:
        """The best readings, best first: at most `most`, none further than `reach` (nats) below the best."""
        scores = squeezed.scores
        if not len(scores):
            return []
        nodes, blanks = self._net.forward(scores)
        best_end = _end(self._net, nodes[-1], blanks[-1])
        if best_end <= NEVER / 2:
            return []
        floor = np.maximum(nodes.max(axis=1), blanks.max(axis=1)) - BEAM
        away = (floor[:, None] - nodes).min(axis=0)
        least = 0.0 if len(away) <= WIDEST else min(0.0, float(np.partition(away, WIDEST)[WIDEST]))
        net, states = self._net.part(away <= least)
        return _Tracer(self.graph, net, states.tolist(), squeezed).readings(most, reach)


class _Net:
    """A graph, whole or in part, laid out for whole-array steps. States keep their numbers in a part."""

    def __init__(
        self, label: Ints, state: Ints, source: Ints, node: Ints, clashes: list[tuple[int, Ints]],
        start: int, finals: Ints, states: int,
    ) -> None:  # fmt: skip
        self.label, self.state, self.source, self.node = label, state, source, node
        self.clashes, self.start, self.finals, self.states = clashes, start, finals, states
        self.entered, self._entered_at = np.unique(state, return_index=True)
        self._fed, self._node_at = np.unique(node, return_index=True)
        self._clash_state = np.array([q for q, _ in clashes], np.int32)
        full = [k for k, (_, nodes) in enumerate(clashes) if len(nodes)]
        self._clash_full = np.array(full, np.int32)
        self._clash_nodes = np.concatenate([clashes[k][1] for k in full]) if full else np.zeros(0, np.int32)
        self._clash_at = np.cumsum([0] + [len(clashes[k][1]) for k in full])[:-1]

    @classmethod
    def whole(cls, graph: PhoneGraph) -> _Net:
        clashes = list(zip(graph.clash_state.tolist(), graph.clash_nodes, strict=True))
        return cls(graph.label, graph.state, graph.source, graph.node, clashes, graph.start, graph.finals, graph.states)

    def part(self, near: NDArray[np.bool_]) -> tuple[_Net, Ints]:
        """The net of the nodes that are `near`, and the old numbers of its states.

        A node may have lost every way in; no path goes there.
        """
        kept = np.flatnonzero(near).astype(np.int32)
        states = np.unique(np.append(self.state[kept], self.start)).astype(np.int32)
        new_node, new_state = _renamed(kept, len(near)), _renamed(states, self.states)
        clashes: list[tuple[int, Ints]] = []
        new_clash = np.full(len(self.clashes), -1, np.int32)
        for k in np.flatnonzero(new_state[self._clash_state] >= 0).tolist():
            q, nodes = self.clashes[k]
            few = new_node[nodes]
            new_clash[k] = len(states) + len(clashes)
            clashes.append((int(new_state[q]), few[few >= 0]))
        new_source = np.concatenate([new_state, new_clash])
        source, node = new_source[self.source], new_node[self.node]
        use = (source >= 0) & (node >= 0)
        finals = new_state[self.finals]
        net = _Net(
            self.label[kept], new_state[self.state[kept]], source[use], node[use], clashes,
            int(new_state[self.start]), finals[finals >= 0], len(states),
        )  # fmt: skip
        return net, states

    def leaving(self, nodes: Floats, blanks: Floats) -> Floats:
        """(states + clashes,) the best score with which each source can be left, given a frame's scores."""
        out = np.empty(self.states + len(self.clashes), np.float32)
        out[: self.states] = blanks
        if len(self.entered):
            out[self.entered] = np.maximum(blanks[self.entered], np.maximum.reduceat(nodes, self._entered_at))
        if len(self.clashes):
            apart = blanks[self._clash_state]
            if len(self._clash_full):
                other = np.maximum.reduceat(nodes[self._clash_nodes], self._clash_at)
                apart[self._clash_full] = np.maximum(apart[self._clash_full], other)
            out[self.states :] = apart
        return out

    def forward(self, scores: Scores) -> tuple[Floats, Floats]:
        """(frames, nodes) and (frames, states): the best score of a path that is there after each frame."""
        frames = len(scores)
        nodes = np.full((frames, len(self.label)), NEVER, np.float32)
        blanks = np.full((frames, self.states), NEVER, np.float32)
        spoken = scores[:, self.label]
        node, blank = np.full(len(self.label), NEVER, np.float32), np.full(self.states, NEVER, np.float32)
        blank[self.start] = 0.0
        arcs = np.empty(len(self.source), np.float32)
        for t in range(frames):
            out = self.leaving(node, blank)
            if len(self.source):
                np.take(out, self.source, out=arcs, mode="clip")
                nodes[t, self._fed] = np.maximum.reduceat(arcs, self._node_at)
            node = np.add(np.maximum(nodes[t], node), spoken[t], out=nodes[t])
            blank = np.add(out[: self.states], scores[t, BLANK], out=blanks[t])
        return nodes, blanks

    def backward(self, scores: Scores) -> tuple[Floats, Floats]:
        """The same, of the best way on from there to an end, without the frame itself."""
        frames, total = len(scores), self.states + len(self.clashes)
        nodes = np.full((frames, len(self.label)), NEVER, np.float32)
        blanks = np.full((frames, self.states), NEVER, np.float32)
        order = np.argsort(self.source, kind="stable")
        target, sources, at = self.node[order], *np.unique(self.source[order], return_index=True)
        blanks[-1, self.finals] = 0.0
        nodes[-1, np.isin(self.state, self.finals)] = 0.0
        # From a node every arc of its state is open, but those of a clash with its own phone.
        apart = self._clash_full.repeat(np.diff(self._clash_at, append=len(self._clash_nodes)))
        for t in range(frames - 2, -1, -1):
            later = nodes[t + 1] + scores[t + 1, self.label]
            onward = np.full(total, NEVER, np.float32)
            if len(target):
                onward[sources] = np.maximum.reduceat(later[target], at)
            leave = np.maximum(onward[: self.states], blanks[t + 1] + scores[t + 1, BLANK])
            nodes[t] = np.maximum(later, leave[self.state])
            if len(self.clashes):
                np.maximum.at(nodes[t], self._clash_nodes, onward[self.states + apart])
                np.maximum.at(leave, self._clash_state, onward[self.states :])
            blanks[t] = leave
        return nodes, blanks


def _renamed(kept: Ints, count: int) -> Ints:
    """(count,) old number -> new number, -1 for what is not kept."""
    new = np.full(count, -1, np.int32)
    new[kept] = np.arange(len(kept), dtype=np.int32)
    return new


def _end(net: _Net, nodes: Floats, blanks: Floats) -> float:
    out = net.leaving(nodes, blanks)
    return float(out[net.finals].max()) if len(net.finals) else float(NEVER)


class _Tracer:
    """Reads paths back out of the two passes."""

    def __init__(self, graph: PhoneGraph, net: _Net, old: list[int], squeezed: Squeezed) -> None:
        self.graph, self.net, self.old, self.squeezed = graph, net, old, squeezed
        self.ahead, self.ahead_blank = net.forward(squeezed.scores)
        self.behind, self.behind_blank = net.backward(squeezed.scores)
        self.onward = self.behind + squeezed.scores[:, net.label]
        self.into: list[list[int]] = [[] for _ in range(len(net.label))]
        for source, node in zip(net.source.tolist(), net.node.tolist(), strict=True):
            self.into[node].append(source)
        self.inside: dict[int, list[int]] = {}
        for node, q in enumerate(net.state.tolist()):
            self.inside.setdefault(q, []).append(node)
        self.outof: dict[int, list[int]] = {}
        for source, node in zip(net.source.tolist(), net.node.tolist(), strict=True):
            self.outof.setdefault(source, []).append(node)
        self.clash_of: dict[int, list[tuple[int, set[int]]]] = {}
        for k, (q, others) in enumerate(net.clashes):
            self.clash_of.setdefault(q, []).append((k, set(others.tolist())))

    def readings(self, most: int, reach: float) -> list[Reading]:
        whole = self.ahead + self.behind
        if not whole.size:
            return []
        best_time = whole.argmax(axis=0)
        best = whole[best_time, np.arange(whole.shape[1])]
        top = float(best.max())
        if top <= NEVER / 2:  # every complete path falls out of the beam: nothing in the grammar sounds like this
            return []
        found: dict[tuple[str, ...], Reading] = {}
        covered = np.zeros(len(best), bool)
        traced = 0
        for node in np.argsort(-best).tolist():
            if best[node] < top - reach or len(found) >= most or traced >= TRACES:
                break
            if covered[node]:
                continue
            traced += 1
            path = self._path(int(best_time[node]), node)
            covered[path[path >= 0]] = True
            for reading in self._read(path, float(best[node])):
                found.setdefault(reading.words, reading)
        return sorted(found.values(), key=lambda reading: -reading.score)

    def _path(self, t: int, node: int) -> Ints:
        """(frames,) the node at each frame of the best path through `node` at frame `t`; blank of state q is -1 - q."""
        path = np.empty(len(self.ahead), np.int32)
        path[t] = here = node
        for u in range(t - 1, -1, -1):
            here = path[u] = self._before(u, here)
        here = node
        for u in range(t + 1, len(path)):
            here = path[u] = self._after(u, here)
        return path

    def _places(self, source: int) -> list[int]:
        """The nodes and the blank from which a source may be left."""
        states = self.net.states
        if source < states:
            return [*self.inside.get(source, ()), -1 - source]
        q, nodes = self.net.clashes[source - states]
        return [*nodes.tolist(), -1 - q]

    def _before(self, t: int, here: int) -> int:
        if here < 0:
            choices = self._places(-1 - here)
        else:
            choices = [here]
            for source in self.into[here]:
                choices += self._places(source)
        row, blank = self.ahead[t], self.ahead_blank[t]
        return max(choices, key=lambda c: row[c] if c >= 0 else blank[-1 - c])

    def _after(self, t: int, here: int) -> int:
        states = self.net.states
        q = -1 - here if here < 0 else int(self.net.state[here])
        choices = [here, -1 - q] if here >= 0 else [here]
        choices += self.outof.get(q, ())
        for k, others in self.clash_of.get(q, ()):
            if here < 0 or here in others:
                choices += self.outof.get(states + k, ())
        if len(choices) > MANY:
            here_, nodes = [c for c in choices if c < 0], np.array([c for c in choices if c >= 0])
            choices = [*here_, int(nodes[self.onward[t, nodes].argmax()])]
        row, blank, still = self.onward[t], self.behind_blank[t], self.squeezed.scores[t, BLANK]
        return max(choices, key=lambda c: row[c] if c >= 0 else blank[-1 - c] + still)

    def _read(self, path: Ints, score: float) -> list[Reading]:
        """The words along a path; more than one reading where words of one sound are all allowed."""
        scores, first = self.squeezed.scores, self.squeezed.first
        place = path.tolist()
        labels = [int(self.net.label[p]) if p >= 0 else BLANK for p in place]
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
                q = self.old[self.net.state[p]]
                if self.graph.word_state[q]:
                    spans.append((self.graph.spelling(last, q, tuple(phones)), begin, t, len(phones)))
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
            for (_, begin, end, size), word in zip(spans, choice, strict=True):
                fit = float(lost[end + 1] - lost[edge]) / size
                heard.append(HeardWord(word, float(first[begin]) * FRAME, float(first[end + 1]) * FRAME, fit))
                edge = end + 1
            readings.append(Reading(choice, score, overall, tuple(sound), tuple(heard)))
        return readings
