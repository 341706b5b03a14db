"""The words of the third opinion: their tokens, and the two tables of its decoder that are as long as these.

    python -m ears_training opinion-words MODEL_FOLDER callout/hearing/weights/opinion

When a word of the grammar changes, only `tokens.json` and these two tables change. They are written anew without torch:
the embeddings of the tokens as they are, and the last matrix in 8 bits with a scale for every column. The tables
that stand there must come out of the same MODEL_FOLDER number for number, else nothing is written.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from callout.errors import BadInput
from callout.hearing.third_opinion import KNOWN_NUMBERS
from callout.language import grammar
from callout.language.automaton import word_automaton
from callout.language.context import EVERYTHING, Context
from ears_training.whisper import read

Table = npt.NDArray[Any]

#: Words of the trade before the question: how numbers are written here, and that "insertion" is a word.
PROMPT = (
    "Insertion ten feet six inches, forty five. Insertion one two feet, angle six zero, two rakers, six feet on center."
)
#: So many of the whole vocabulary's tokens, the commonest pieces of words, are kept beside those of the grammar's
#: words: a team's own words are written with them.
PIECES = 2000
#: The tables of `ask.onnx` as `export_opinion` names them.
EMBEDDINGS, LAST = "tokens.weight", "logp"


def grammar_words() -> set[str]:
    """All words of all states."""
    every = [Context(state=state) for state in grammar.load().states]
    return {word for context in (EVERYTHING, *every) for word in word_automaton(context).words}


def token_table(tokenizer: Path, words: Iterable[str]) -> tuple[dict[str, Any], list[int]]:
    """What `tokens.json` holds, and the tokens of the whole vocabulary that it numbers anew."""
    from tokenizers import Tokenizer

    whole = Tokenizer.from_file(str(tokenizer))
    ids = lambda text: whole.encode(text, add_special_tokens=False).ids  # noqa: E731
    marks = {name: whole.token_to_id(f"<|{name}|>") for name in ("startofprev", "startoftranscript", "notimestamps")}
    end = whole.token_to_id("<|endoftext|>")
    start = [marks["startofprev"], *ids(" " + PROMPT), marks["startoftranscript"], marks["notimestamps"]]
    spelt = {word: "I" + word[1:] if re.match(r"i\b", word) else word for word in sorted(words)}  # "i'm": "I'm"
    plain = {word: ids(" " + text) for word, text in spelt.items()}
    capital = {word: ids(" " + text[:1].upper() + text[1:]) for word, text in spelt.items()}
    numbers = {str(n): ids(f" {n}") for n in range(KNOWN_NUMBERS)}
    stop = ids(".")
    pieces = {text: token for text, token in whole.get_vocab().items()
              if token < PIECES and re.fullmatch("Ġ?[A-Za-z]*", text)}  # fmt: skip
    spoken = {t for row in (*plain.values(), *capital.values(), *numbers.values(), stop, ids(PROMPT)) for t in row}
    known = sorted(spoken | set(start) | {end} | set(pieces.values()))
    at = {token: number for number, token in enumerate(known)}
    outputs = [at[t] for t in known if t not in marks.values()]
    anew = lambda rows: {key: [at[t] for t in row] for key, row in rows.items()}  # noqa: E731
    return {
        "plain": anew(plain), "capital": anew(capital), "numbers": anew(numbers), "stop": [at[t] for t in stop],
        "start": [at[t] for t in start], "end": at[end], "outputs": outputs,
        "pieces": {text: at[pieces[text]] for text in sorted(pieces, key=pieces.__getitem__)},
    }, known  # fmt: skip


def renew_words(model: Path, words: Iterable[str], out: Path) -> int:
    """Write `tokens.json` and the two tables of `ask.onnx` in the folder `out` for `words`; returns how many tokens."""
    import onnx
    from onnx import numpy_helper

    rows = read(model / "model.bin", "decoder/embeddings/weight")["decoder/embeddings/weight"].astype(np.float32)
    graph = onnx.load(out / "ask.onnx")
    stored = {one.name: one for one in graph.graph.initializer}
    quantized, scale = _last_matrix(graph)
    old = json.loads((out / "tokens.json").read_text(encoding="utf-8"))
    before = _known_before(rows, numpy_helper.to_array(stored[EMBEDDINGS]))
    whole, scales = in_eight_bits(rows[[before[at] for at in old["outputs"]]].T)
    same = np.array_equal(whole, numpy_helper.to_array(stored[quantized]))
    if not same or not np.array_equal(scales, numpy_helper.to_array(stored[scale])):
        raise BadInput(f"{out / 'ask.onnx'} was not made of {model}; make it whole: python -m ears_training opinion")
    table, known = token_table(model / "tokenizer.json", words)
    whole, scales = in_eight_bits(rows[[known[at] for at in table["outputs"]]].T)
    zero = f"{quantized.removesuffix('_quantized')}_zero_point"
    fresh = {EMBEDDINGS: rows[known], quantized: whole, scale: scales, zero: np.zeros(len(scales), np.int8)}
    for name, values in fresh.items():
        stored[name].CopyFrom(numpy_helper.from_array(values, name))
    onnx.save(graph, str(out / "ask.onnx"))
    (out / "tokens.json").write_text(json.dumps(table) + "\n", encoding="utf-8")
    return len(known)


def in_eight_bits(weights: Table) -> tuple[Table, Table]:
    """A matrix in 8 bits, zero at zero, a scale for every column: as onnxruntime's `quantize_dynamic` rounds it."""
    scales = np.abs(weights).max(0) / np.float32(127)
    return np.clip(np.round(weights / scales), -128, 127).astype(np.int8), scales.astype(np.float32)


def _last_matrix(graph: Any) -> tuple[str, str]:
    """The names of the last matrix and of its scales."""
    names = [one.name for one in graph.graph.initializer]
    quantized = [node.input[1] for node in graph.graph.node if node.op_type == "MatMulInteger"][-1]
    scale = f"{quantized.removesuffix('_quantized')}_scale"
    if EMBEDDINGS not in names or scale not in names or graph.graph.output[0].name != LAST:
        raise BadInput("ask.onnx has another shape than export_opinion.py gives it; make it whole")
    return quantized, scale


def _known_before(rows: Table, table: Table) -> list[int]:
    """Which tokens of the whole vocabulary stand in a table of embeddings."""
    at = {row.tobytes(): number for number, row in enumerate(rows)}
    found = [at.get(row.tobytes()) for row in table]
    if None in found:
        raise BadInput("the embeddings in ask.onnx are not those of this model")
    return [number for number in found if number is not None]
