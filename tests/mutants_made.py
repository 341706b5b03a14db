"""The faults of one file: what mutmut would change, at every place of the file that is run."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import libcst as cst
from libcst.metadata import ByteSpanPositionProvider, CodeSpan, MetadataWrapper, PositionProvider
from mutmut.mutation.mutators import mutation_operators

ROOT = Path(__file__).resolve().parent.parent
#: Calls whose arguments say no more than the code around them; mutmut leaves them, too.
LEFT = ("len", "isinstance")


@dataclass(frozen=True)
class Fault:
    """`source` is the whole file with the fault in it; `inside`: in the body of a function."""

    file: str
    line: int
    inside: bool
    source: str


def faults_of(file: str) -> list[Fault]:
    wrapper = MetadataWrapper(cst.parse_module((ROOT / file).read_text("utf-8")))
    visitor = _Visitor()
    wrapper.visit(visitor)
    module, found = wrapper.module, {}
    for node, other, line, inside, span in visitor.found:
        source = _put_in(module, node, other, span)
        found.setdefault(source, Fault(file, line, inside, source))
    found.pop(module.code, None)
    return [fault for source, fault in found.items() if _compiles(source, file)]


def _put_in(module: cst.Module, node: cst.CSTNode, other: cst.CSTNode, span: CodeSpan) -> str:
    """The text of the module with `other` in the place of `node`; made anew as a whole where the text of the node alone
    is not what stands there (one of several lines), which takes a hundred times as long."""
    code, end = module.code.encode(), span.start + span.length
    if code[span.start : end] != module.code_for_node(node).encode():
        return module.deep_replace(node, other).code
    return (code[: span.start] + module.code_for_node(other).encode() + code[end:]).decode()


def _compiles(source: str, file: str) -> bool:
    try:
        compile(source, file, "exec")
    except SyntaxError:
        return False
    return True


class _Visitor(cst.CSTVisitor):
    METADATA_DEPENDENCIES = (PositionProvider, ByteSpanPositionProvider)

    def __init__(self) -> None:
        self.found: list[tuple[cst.CSTNode, cst.CSTNode, int, bool, CodeSpan]] = []
        self._bodies = 0

    def on_visit(self, node: cst.CSTNode) -> bool:
        if isinstance(node, (cst.Annotation, cst.Decorator, cst.Import, cst.ImportFrom)) or _left(node):
            return False
        for kind, operator in mutation_operators:
            if isinstance(node, kind):
                for other in operator(node):
                    line = self.get_metadata(PositionProvider, node).start.line
                    span = self.get_metadata(ByteSpanPositionProvider, node)
                    self.found.append((node, other, line, self._bodies > 0, span))
        return True

    def visit_FunctionDef_body(self, node: cst.FunctionDef) -> None:
        self._bodies += 1

    def leave_FunctionDef_body(self, node: cst.FunctionDef) -> None:
        self._bodies -= 1


def _left(node: cst.CSTNode) -> bool:
    return isinstance(node, cst.Call) and isinstance(node.func, cst.Name) and node.func.value in LEFT
