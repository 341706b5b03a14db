"""The two passes over a phone graph: how well each place is reached, and how well the end is reached from there.

A *place* is a node (its phone sounds) or the blank of a state. Each frame is a few maxima over whole arrays; a place
where no path can be has a score near `NEVER`. Sources are numbered states first, then clashes, as in the graph.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from callout.hearing.encoder import BLANK, Scores
from callout.hearing.graph import PhoneGraph

Floats = NDArray[np.float32]
Numbers = NDArray[np.intp]  # what numpy takes without a copy

NEVER = np.float32(-1e30)


class Forward:
    """From the start, over the whole graph.

    Node n is entered from the `sources` at `sources_at[n]` to `sources_at[n + 1]`; state q has the nodes from
    `nodes_at[q]` to `nodes_at[q + 1]`; clash k is left from the nodes `others` at `others_at[k]` to `others_at[k + 1]`.
    """

    def __init__(self, graph: PhoneGraph) -> None:
        self.states, self._start, self._label = graph.states, graph.start, graph.label
        self.sources, self.sources_at = graph.source.astype(np.intp), _starts(graph.node, len(graph.label))
        self.nodes_at = _starts(graph.state, graph.states)
        self.others, self.others_at = graph.other.astype(np.intp), _starts(graph.other_of, len(graph.clash_state))
        self.clash_state = graph.clash_state.astype(np.intp)
        self._fed, self._fed_at = _groups(graph.node)
        self._entered, self._entered_at = _groups(graph.state)
        self._open, self._open_at = _groups(graph.other_of)

    def run(self, scores: Scores) -> tuple[Floats, Floats]:
        """(frames, nodes), the best score of a path that is there after each frame; (frames + 1, sources), the best
        with which each source can be left before each frame, and in the last row after them all."""
        frames, states = len(scores), self.states
        nodes = np.full((frames, len(self._label)), NEVER, np.float32)
        leave = np.full((frames + 1, states + len(self.clash_state)), NEVER, np.float32)
        leave[0, self._start] = 0.0
        spoken, arcs = scores[:, self._label], np.empty(len(self.sources), np.float32)
        before = np.full(len(self._label), NEVER, np.float32)
        for t in range(frames):
            node, out = nodes[t], leave[t + 1]
            state, clash = out[:states], out[states:]
            np.take(leave[t], self.sources, out=arcs, mode="clip")
            node[self._fed] = np.maximum.reduceat(arcs, self._fed_at)
            np.maximum(node, before, out=node)
            before = np.add(node, spoken[t], out=node)
            np.add(leave[t, :states], scores[t, BLANK], out=state)
            np.take(state, self.clash_state, out=clash, mode="clip")  # the blank's, as no node is in yet
            state[self._entered] = np.maximum(state[self._entered], np.maximum.reduceat(node, self._entered_at))
            others = np.maximum.reduceat(node[self.others], self._open_at)
            clash[self._open] = np.maximum(clash[self._open], others)
        return nodes, leave


class Backward:
    """From the end, over the `kept` nodes, sorted, and over their states; both are numbered anew.

    Source s leads to the nodes `targets` at `targets_at[s]` to `targets_at[s + 1]`; the clashes of state q are the
    sources `state_clash` at `state_clash_at[q]` to `state_clash_at[q + 1]`, those open to node n `node_clash` likewise.
    """

    def __init__(self, graph: PhoneGraph, kept: Numbers) -> None:
        self.kept, self.kept_states = kept, np.unique(np.append(graph.state[kept], graph.start)).astype(np.intp)
        self.states, self.label = len(self.kept_states), graph.label[kept]
        new_node = _renamed(kept, len(graph.label))
        new_state = _renamed(self.kept_states, graph.states)
        self.state = new_state[graph.state[kept]]
        self._finals = new_state[graph.finals[new_state[graph.finals] >= 0]]

        clash_state = new_state[graph.clash_state]
        clashes = np.flatnonzero(clash_state >= 0)
        clashes = clashes[np.argsort(clash_state[clashes], kind="stable")]
        new_clash = _renamed(clashes, len(clash_state), self.states)
        self._count = self.states + len(clashes)
        self.state_clash = np.arange(self.states, self._count)
        self.state_clash_at = _starts(clash_state[clashes], self.states)
        self._clash_state, self._clash_state_at = _groups(clash_state[clashes])
        node, self.node_clash = _pairs(new_node[graph.other], new_clash[graph.other_of])
        self.node_clash_at = _starts(node, len(kept))
        self._clash_node, self._clash_node_at = _groups(node)

        new_source = np.concatenate([new_state, new_clash])
        source, self.targets = _pairs(new_source[graph.source], new_node[graph.node])
        self.targets_at = _starts(source, self._count)
        self._leading, self._leading_at = _groups(source)

    def run(self, scores: Scores) -> tuple[Floats, Floats]:
        """(frames, nodes) and (frames, states): the best score of the way on from a node, or from the blank of a
        state, to an end, without the frame itself."""
        frames = len(scores)
        nodes = np.full((frames, len(self.label)), NEVER, np.float32)
        blanks = np.full((frames, self.states), NEVER, np.float32)
        blanks[-1, self._finals] = 0.0
        nodes[-1] = blanks[-1, self.state]
        spoken, onward = scores[:, self.label], np.full(self._count, NEVER, np.float32)
        for t in range(frames - 2, -1, -1):
            node, blank = nodes[t], blanks[t]
            later = nodes[t + 1] + spoken[t + 1]
            onward[self._leading] = np.maximum.reduceat(later[self.targets], self._leading_at)
            np.maximum(onward[: self.states], blanks[t + 1] + scores[t + 1, BLANK], out=blank)
            np.maximum(later, blank[self.state], out=node)
            through = np.maximum.reduceat(onward[self.node_clash], self._clash_node_at)
            node[self._clash_node] = np.maximum(node[self._clash_node], through)
            through = np.maximum.reduceat(onward[self.states :], self._clash_state_at)
            blank[self._clash_state] = np.maximum(blank[self._clash_state], through)
        return nodes, blanks


def _starts(numbers: NDArray[np.integer], count: int) -> Numbers:
    """(count + 1,) where each of the numbers from 0 begins in a sorted array, and where it ends."""
    return np.searchsorted(numbers, np.arange(count + 1))


def _groups(numbers: NDArray[np.integer]) -> tuple[slice | Numbers, Numbers]:
    """The different numbers of a sorted array, as a slice if they are consecutive (numpy is quicker with one), and
    where each begins."""
    found, at = np.unique(numbers, return_index=True)
    if len(found) and found[-1] - found[0] == len(found) - 1:
        return slice(int(found[0]), int(found[-1]) + 1), at
    return found.astype(np.intp), at


def _renamed(kept: Numbers, count: int, first: int = 0) -> Numbers:
    """(count,) old number -> new number from `first` on, -1 for what is not kept."""
    new = np.full(count, -1, np.intp)
    new[kept] = np.arange(first, first + len(kept))
    return new


def _pairs(one: Numbers, other: Numbers) -> tuple[Numbers, Numbers]:
    """Those pairs of which neither is -1, sorted by the first."""
    both = np.flatnonzero((one >= 0) & (other >= 0))
    both = both[np.argsort(one[both], kind="stable")]
    return one[both], other[both]
