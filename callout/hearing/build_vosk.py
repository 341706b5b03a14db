"""Build the fixed graph of the Vosk ear from the grammar's vocabulary: `python -m callout.hearing.build_vosk`.

Writes `graph/` (HCLr.fst, Gr.fst, words.txt, phones/word_boundary.int, disambig_tid.int) into the model folder of
the package, or into the folder that is named. Run it when a word or a pronunciation of the grammar changes.
Needs, at build time only: `pip install kaldifst`, and Debian's `libfst-tools` and `libfst22-plugins-base` for the
look-ahead form of the graph (`apt-get install libfst-tools libfst22-plugins-base`).

The numbering of phones and transitions here is the one that `am/final.mdl` is exported with.
Format: Kaldi's transition model and HCLG conventions (kaldi-asr.org, "HMM topology and transition modeling").
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from callout.errors import CalloutError
from callout.hearing.encoder import INDEX, PHONES
from callout.hearing.vosk_graph import GARBAGE, lexicon_mark, write_gr

OUTPUTS = 1 + len(PHONES)  # blank, then the phones: the columns of the network
SILENCE, RUBBISH = 1, 2  # phone numbers; rubbish is a free loop over all outputs
POSITIONS = ("begin", "internal", "end", "singleton")
FIRST_MARK = 1000  # symbols that keep equal pronunciations apart while the lexicon is made deterministic

# Costs in nats, at acoustic scale 1. The rubbish cost for each phone is what keeps free phones from always winning.
SILENCE_COST, BLANK_COST, GARBAGE_COST, GARBAGE_PHONE_COST = 0.3, 0.1, 2.0, 2.5

Arc = tuple[int, int, int, int, float]  # from, to, input, output, cost


def phone_number(phone: str, position: str) -> int:
    return 3 + 4 * (INDEX[phone] - 1) + POSITIONS.index(position)


def topology() -> dict[int, list[tuple[int, list[int]]]]:
    """{phone number: [(network output, states that may follow)] for each state}; the last state is the exit."""
    shape: dict[int, list[tuple[int, list[int]]]] = {SILENCE: [(0, [0, 1])]}
    shape[RUBBISH] = [(j, sorted({j, j + 1, OUTPUTS})) for j in range(OUTPUTS)]
    for phone in PHONES:
        for position in POSITIONS:
            shape[phone_number(phone, position)] = [(INDEX[phone], [0, 1, 2]), (0, [1, 2])]
    return shape


def transitions() -> tuple[dict[tuple[int, int], tuple[int, int]], int]:
    """({(phone, state): (loop id, exit id)}, last id), numbered as Kaldi numbers them."""
    ids, following = {}, 1
    for phone, states in sorted(topology().items()):
        for state, (_, targets) in enumerate(states):
            ids[phone, state] = (following + targets.index(state), following + targets.index(len(states)))
            following += len(targets)
    return ids, following - 1


def lexicon_arcs(lexicon: dict[str, list[tuple[str, ...]]], numbers: dict[str, int]) -> list[Arc]:
    """Words from phones, with silence allowed at the start and after each word. State 1 is the end."""
    spoken = [(numbers[word], _positioned(pron)) for word, prons in lexicon.items() for pron in prons]
    spoken.append((numbers[GARBAGE], (RUBBISH,)))
    beginnings = {phones[:i] for _, phones in spoken for i in range(1, len(phones))}
    seen: dict[tuple[int, ...], int] = {}
    twice = [phones for _, phones in spoken]
    arcs: list[Arc] = [(0, 1, 0, 0, 0.0), (0, 2, SILENCE, 0, SILENCE_COST), (2, 1, FIRST_MARK, 0, 0.0)]
    fresh = 3
    for word, phones in spoken:
        line = list(phones)
        if phones in beginnings or twice.count(phones) > 1:
            seen[phones] = seen.get(phones, 0) + 1
            line.append(FIRST_MARK + seen[phones])
        here, output, cost = 1, word, GARBAGE_COST if phones == (RUBBISH,) else 0.0
        for phone in line[:-1]:
            arcs.append((here, fresh, phone, output, cost))
            here, output, cost, fresh = fresh, 0, 0.0, fresh + 1
        arcs.append((here, 1, line[-1], output, cost))
        arcs.append((here, fresh, line[-1], output, cost + SILENCE_COST))
        arcs.append((fresh, 2, SILENCE, 0, 0.0))
        fresh += 1
    return arcs


def expanded(arcs: Iterable[Arc], first_free: int) -> list[Arc]:
    """Each phone arc as its frames: one exit id, more on the loop id, then blanks on the second state's loop id."""
    ids, _ = transitions()
    out: list[Arc] = []
    shared: dict[tuple[int, int], list[int]] = {}
    fresh = first_free

    def entry(phone: int, target: int) -> list[int]:
        nonlocal fresh
        if (phone, target) in shared:
            return shared[phone, target]
        if phone == RUBBISH:
            hub, doors = fresh, list(range(fresh + 1, fresh + 1 + OUTPUTS))
            fresh += 1 + OUTPUTS
            out.append((hub, target, 0, 0, 0.0))
            for j, door in enumerate(doors):
                loop, cost = ids[RUBBISH, j][0], GARBAGE_PHONE_COST if j else 0.0
                out.extend([(door, door, loop, 0, 0.0), (hub, door, loop, 0, cost), (door, hub, 0, 0, 0.0)])
        else:
            door, doors = fresh, [fresh]
            fresh += 1
            out.extend([(door, door, ids[phone, 0][0], 0, 0.0), (door, target, 0, 0, 0.0)])
            if phone != SILENCE:
                gap, blank = fresh, ids[phone, 1][0]
                fresh += 1
                out.extend(
                    [(door, gap, blank, 0, BLANK_COST), (gap, gap, blank, 0, BLANK_COST), (gap, target, 0, 0, 0.0)]
                )
        shared[phone, target] = doors
        return doors

    for source, target, phone, word, cost in arcs:
        if phone == 0 or phone >= FIRST_MARK:
            out.append((source, target, 0, word, cost))
        elif phone == RUBBISH:
            for j, door in list(enumerate(entry(phone, target)))[1:]:
                out.append((source, door, ids[RUBBISH, j][1], word, cost + GARBAGE_PHONE_COST))
        else:
            out.append((source, entry(phone, target)[0], ids[phone, 0][1], word, cost))
    return out


def build(
    model: Path, lexicon: dict[str, list[tuple[str, ...]]], gr: tuple[list[tuple[int, int, str]], int, list[int]]
) -> None:
    """Write `model`/graph for the words of `lexicon`, with the automaton `gr` (arcs, start, finals) as its Gr.fst."""
    try:
        import kaldifst
    except ModuleNotFoundError:
        raise CalloutError("building the graph needs kaldifst; run: pip install kaldifst") from None
    numbers = {word: number + 1 for number, word in enumerate([*sorted(lexicon), GARBAGE])}
    words = _compiled(kaldifst, lexicon_arcs(lexicon, numbers), 1)
    if kaldifst.determinize_star(words):
        raise CalloutError("the lexicon cannot be made deterministic; look for a pronunciation that is given twice")
    kaldifst.minimize_encoded(words)
    arcs = [
        (state, arc.nextstate, arc.ilabel, arc.olabel, arc.weight.value)
        for state in kaldifst.StateIterator(words)
        for arc in kaldifst.ArcIterator(words, state)
    ]
    ends = [(s, words.final(s).value) for s in kaldifst.StateIterator(words) if words.final(s).value != float("inf")]
    graph = _compiled(kaldifst, expanded(arcs, words.num_states), ends, words.start)
    kaldifst.connect(graph)
    kaldifst.arcsort(graph, "olabel")
    place = model / "graph"
    (place / "phones").mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        graph.write(f"{folder}/hcl.fst")
        new = _look_ahead(Path(folder), place / "HCLr.fst")
    numbers = {word: new[number] for word, number in numbers.items()}
    lines = ["<eps> 0", *(f"{word} {number}" for word, number in numbers.items())]
    (place / "words.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (place / "disambig_tid.int").write_text(f"{transitions()[1] + 1}\n")  # never used, must not be empty
    lines = [f"{SILENCE} nonword", f"{RUBBISH} singleton"]
    lines += [f"{phone_number(phone, position)} {position}" for phone in PHONES for position in POSITIONS]
    (place / "phones" / "word_boundary.int").write_text("\n".join(lines) + "\n")
    write_gr(place / "Gr.fst", *gr, numbers)
    (place / "lexicon.sha256").write_text(lexicon_mark(lexicon) + "\n")


def _positioned(pron: tuple[str, ...]) -> tuple[int, ...]:
    if len(pron) == 1:
        return (phone_number(pron[0], "singleton"),)
    inner = [phone_number(phone, "internal") for phone in pron[1:-1]]
    return (phone_number(pron[0], "begin"), *inner, phone_number(pron[-1], "end"))


def _compiled(kaldifst: Any, arcs: list[Arc], ends: Any, start: int = 0) -> Any:
    ends = [(ends, 0.0)] if isinstance(ends, int) else ends
    arcs = sorted(arcs, key=lambda arc: arc[0] != start)  # the first line names the start
    text = [" ".join(map(str, arc)) for arc in arcs] + [f"{state} {cost}" for state, cost in ends]
    return kaldifst.compile("\n".join(text) + "\n")


def _look_ahead(folder: Path, target: Path) -> dict[int, int]:
    """Convert to the look-ahead form; returns how it renumbered the words."""
    listing = subprocess.run(["dpkg", "-L", "libfst22-plugins-base"], capture_output=True, text=True)
    plugin = next((line for line in listing.stdout.split() if line.endswith("/olabel_lookahead-fst.so")), None)
    if plugin is None:
        raise CalloutError("building the graph needs: apt-get install libfst-tools libfst22-plugins-base")
    command = ["fstconvert", "--fst_type=olabel_lookahead", f"--save_relabel_opairs={folder}/pairs"]
    command += [f"{folder}/hcl.fst", str(target)]
    subprocess.run(command, check=True, env={**os.environ, "LD_LIBRARY_PATH": os.path.dirname(plugin)})
    pairs = [line.split() for line in (folder / "pairs").read_text().splitlines()]
    return {int(old): int(new) for old, new in pairs}


def grammar_lexicon() -> dict[str, list[tuple[str, ...]]]:
    """Every word of every state of the conversation, with its pronunciations."""
    from callout.language import grammar
    from callout.language.automaton import word_automaton
    from callout.language.context import Context
    from callout.language.pronunciation import prons

    states = (None, *grammar.load().states)
    words = {word for state in states for word in word_automaton(Context(state=state)).words}
    return {word: list(dict.fromkeys(map(tuple, prons(word)))) for word in sorted(words)}


def main() -> None:
    from callout.language.automaton import word_automaton

    model = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "weights" / "vosk"
    every = word_automaton()
    lexicon = grammar_lexicon()
    build(model, lexicon, (list(every.arcs), every.start, sorted(every.finals)))
    print(f"{model / 'graph'}: {len(lexicon)} words, HCLr.fst {(model / 'graph' / 'HCLr.fst').stat().st_size} bytes")


if __name__ == "__main__":
    main()
