"""A draft and the pieces chosen for it become a `Build`: numbered parts, pick list, settings, weights, sources."""

from __future__ import annotations

import math
from collections.abc import Sequence

from callout.shoring.allocation import Allocation, PieceNeed, SpanNeed, SpanSet, Taken
from callout.shoring.allocation import Lacking as Lack
from callout.shoring.build import (
    Build,
    Check,
    Missing,
    Nesting,
    Part,
    Picking,
    Refused,
    Setting,
)
from callout.shoring.draft import Draft, procedure, procedures, use_of
from callout.shoring.kit import Kit
from callout.shoring.loads import inches
from callout.shoring.request import Site
from callout.shoring.rules import Rule
from callout.shoring.struts import too_long_with_extensions
from callout.shoring.units import q, so_many
from callout.values import Callout, Length


def refused_build(build_id: int, request: Callout, site: Site, refused: Refused, draft: Draft | None = None) -> Build:
    """No such shore, or none that is strong enough: the reason and the nearest that can be built. `draft` is what was
    worked out; its lengths and checks show why."""
    build = Build(
        build_id=build_id, title="no such shore", request=request, site=site, possible=False, refused=refused,
        cautions=tuple(procedures()["all"]["cautions"]),
    )  # fmt: skip
    if draft is None:
        return build
    checks = in_order(draft.checks)
    return build.model_copy(
        update={
            "title": draft.title, "chosen": draft.work.chosen, "geometry": draft.pairs, "checks": checks,
            "loads": tuple(draft.loads), "governs": checks[0].name if checks and checks[0].checked else None,
            "sources": _sources(draft), "notes": tuple(draft.notes),
        }
    )  # fmt: skip


def assemble(build_id: int, request: Callout, site: Site, draft: Draft, chosen: Allocation, kit: Kit) -> Build:
    """The build; a refused one where the very pieces that were chosen are not rated for it."""
    longest = max((span.setting for span in chosen.spans if span.family == "strut" and span.extensions), default=None)
    if longest is not None and (why := too_long_with_extensions(draft, kit, longest)) is not None:
        return refused_build(build_id, request, site, Refused(reason=why), draft)
    parts = _parts(draft, chosen)
    _say_how_to_set(draft, chosen)
    words = procedure(draft)
    memory = tuple(dict.fromkeys(_called(rule) for rule in draft.book.used.values() if rule.grade == "M"))
    notes = (f"{words.memory_note}: {', '.join(memory)}",) if memory else ()
    heaviest = _heaviest(draft, chosen)
    share = draft.book.quantity("lift_for_one").to("lb")
    checks = in_order(draft.checks)
    governs = checks[0].name if checks and checks[0].checked else None
    return Build(
        build_id=build_id, title=draft.title, request=request, site=site, chosen=draft.work.chosen,
        possible=chosen.complete, geometry=draft.pairs, end_cuts=draft.end_cuts, setting=_settings(draft, chosen),
        parts=parts, pick_list=_pick_list(parts), cuts=tuple(draft.cuts), nesting=_nesting(build_id, chosen),
        fasteners=tuple(draft.fasteners), positions=tuple(draft.positions), steps=words.steps, tools=words.tools,
        checks=checks, before_load=words.checks, watch=words.watch, cautions=words.cautions, loads=tuple(draft.loads),
        governs=governs, missing=_missing(draft, chosen), sources=_sources(draft), from_memory=memory,
        notes=(*notes, *draft.notes), weight_lb=chosen.weight_lb,
        lift_people=max(1, math.ceil(heaviest / share)),
    )  # fmt: skip


_AT_ONCE = 2  # members named in one step


def _called(rule: Rule) -> str:
    """A figure in plain words; one that a team graded so without words keeps its key's."""
    return rule.called or rule.key.replace("_", " ")


def _say_how_to_set(draft: Draft, chosen: Allocation) -> None:
    """The settings for the order of work, each once for all members that are set alike; with the pieces known also
    where to lock them, how far to turn the screw out, and what is put on."""
    spans = {span.label: span for span in chosen.spans}
    for family in ("strut", "brace", "lateral", "diagonal"):
        needs = [need for need in draft.needs if isinstance(need, SpanNeed) and need.family == family]
        called = {"strut": "each raker", "brace": "each mid brace"}.get(family, f"each {family}")
        alike: dict[tuple[Length, str, str], list[SpanNeed]] = {}
        for need in needs:
            span = spans.get(need.label)
            alike.setdefault((need.wanted, _how(draft, span), _put_on(span)), []).append(need)
        for (wanted, how, extensions), group in alike.items():
            for members in [called] if len(group) == len(needs) > 1 else _named(group, needs):
                entry = {"members": members, "set": draft.text(wanted), "tape": draft.text(wanted - group[0].deduct)}
                draft.lists.setdefault(family, []).append(entry)
                if how:
                    draft.lists.setdefault(f"{family}_locked", []).append({**entry, "how": how})
                if extensions:
                    end = spans[group[0].label].extension_end or "fixed end"
                    more = {**entry, "extensions": extensions, "end": end}
                    draft.lists.setdefault(f"{family}_extensions", []).append(more)


def _named(group: Sequence[SpanNeed], needs: Sequence[SpanNeed]) -> list[str]:
    """Members that are set alike, a few at a time: "each lower diagonal" where all of that name are."""

    def plain(need: SpanNeed) -> str:
        return need.label.partition(",")[0]

    count = {name: sum(plain(need) == name for need in needs) for name in map(plain, needs)}
    names: list[str] = []
    for name in dict.fromkeys(map(plain, group)):
        mine = [need for need in group if plain(need) == name]
        if len(mine) == count[name] > 1:
            names.append(f"each {name}")
        else:
            names += [need.label.replace(", rakers", " of rakers") for need in mine]
    return [_joined_words(names[at : at + _AT_ONCE]) for at in range(0, len(names), _AT_ONCE)]


def _how(draft: Draft, span: SpanSet | None) -> str:
    """ "lock at 9 ft, screw out 4 in", or the screw alone where the member has no locks."""
    if span is None:
        return ""
    out = draft.text(span.screw_out)
    added = span.setting - span.member_setting
    alone = span.lock + added == span.closed
    return f"fully in, its screw out {out}" if alone else f"lock at {draft.text(span.lock)}, screw out {out}"


def _put_on(span: SpanSet | None) -> str:
    return "" if span is None else _joined_words([f"the {name}" for name in span.extensions])


def _joined_words(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""


def _parts(draft: Draft, chosen: Allocation) -> tuple[Part, ...]:
    """One line for each line of the stock, in the order of the needs; whole timbers come before them all, or after
    them where the shore itself is of struts."""
    order = {need.label: number for number, need in reversed(list(enumerate(draft.needs)))}
    timber = -1 if draft.work.made_of == "timber" else len(order)
    lines: dict[str, list[Taken]] = {}
    for taken in sorted(chosen.taken, key=lambda t: order.get(t.label, timber)):
        lines.setdefault(taken.name, []).append(taken)
    found = []
    for item, (name, all_taken) in enumerate(lines.items(), 1):
        first, quantity = all_taken[0], sum(taken.quantity for taken in all_taken)
        weight = sum(taken.weight_lb for taken in all_taken) / quantity
        variant = next((v for t in all_taken if (v := _variant(draft, t)) is not None), None)
        uses = list(dict.fromkeys(use_of(taken.label) for taken in all_taken))
        found.append(
            Part(
                item=item, quantity=quantity, part=first.part, name=name, length=first.length, variant=variant,
                use=", ".join(uses), where=first.where, weight_lb=round(weight, 2), stands_for=first.stands_for,
            )
        )  # fmt: skip
    return tuple(found)


def _variant(draft: Draft, taken: Taken) -> str | None:
    """The variant that the need asked for, where the piece is the very thing."""
    for need in draft.needs:
        if isinstance(need, PieceNeed) and (need.label, need.part) == (taken.label, taken.part):
            return need.variant if taken.stands_for is None else None
    return None


def _pick_list(parts: tuple[Part, ...]) -> tuple[Picking, ...]:
    """By place, in the order in which the list meets each place."""
    places: dict[str, list[Part]] = {}
    for part in parts:
        places.setdefault(part.where, []).append(part)
    return tuple(
        Picking(
            where=where, items=tuple(p.item for p in here),
            weight_lb=round(sum(p.quantity * p.weight_lb for p in here), 2),
        )
        for where, here in places.items()
    )  # fmt: skip


def _settings(draft: Draft, chosen: Allocation) -> tuple[Setting, ...]:
    spans = {span.label: span for span in chosen.spans}
    return tuple(
        _setting(need, draft.spans[need.label], spans.get(need.label))
        for need in draft.needs
        if isinstance(need, SpanNeed)
    )


def _setting(need: SpanNeed, exact: Length, span: SpanSet | None) -> Setting:
    plain = Setting(label=need.label, setting=need.wanted, exact=exact, member=need.wanted - need.deduct)
    if span is None:
        return plain
    return plain.model_copy(
        update={
            "member": span.setting, "closed": span.closed + need.deduct, "open": span.open + need.deduct,
            "turn_in": span.turn_in, "turn_out": span.turn_out, "lock": span.lock, "screw_out": span.screw_out,
            "pieces": (span.member, *span.extensions, *span.couplers), "extension_end": span.extension_end,
        }
    )  # fmt: skip


def _nesting(build_id: int, chosen: Allocation) -> tuple[Nesting, ...]:
    return tuple(
        Nesting(
            section=bar.section, name=bar.name, stock_length=bar.length, where=bar.where, rest=bar.offcut,
            cuts=tuple(cut.length for cut in bar.cuts),
            labels=tuple(cut.label if cut.build == build_id else f"build {cut.build}: {cut.label}" for cut in bar.cuts),
        )
        for bar in chosen.bars
    )  # fmt: skip


def _joined(lacking: Sequence[Lack]) -> list[Lack]:
    """The same thing for the same use, once."""
    total: dict[Lack, int] = {}
    for lack in lacking:
        one = lack.model_copy(update={"quantity": 0})
        total[one] = total.get(one, 0) + lack.quantity
    return [one.model_copy(update={"quantity": quantity}) for one, quantity in total.items()]


def _missing(draft: Draft, chosen: Allocation) -> tuple[Missing, ...]:
    found = []
    for lack in _joined(chosen.missing):
        size = f" of {draft.text(lack.length)}" if lack.length is not None and lack.name is None else ""
        why = f": {lack.reason}" if lack.reason else ""
        found.append(
            Missing(
                part=lack.part, quantity=lack.quantity, length=lack.length, need=use_of(lack.label), name=lack.name,
                text=f"{so_many(lack.quantity, lack.name or lack.part)}{size} for {use_of(lack.label)}{why}",
            )
        )
    return tuple(found)


def _heaviest(draft: Draft, chosen: Allocation) -> float:
    """Pounds of the heaviest thing carried in one piece: kit pieces by the stock's weights, timber by its volume."""
    kit = sum(t.weight_lb for t in chosen.taken if use_of(t.label) in draft.lifted)
    timber = 0.0
    for cut in draft.cuts:
        if cut.label in draft.lifted:
            wide, deep = draft.book.rule(f"dressed_{cut.section}").value
            volume = cut.quantity * q(wide, "in") * q(deep, "in") * inches(cut.length)
            timber += (volume * draft.book.quantity("wood")).to("lb")
    return (kit + timber) / draft.lifts


def in_order(checks: Sequence[Check]) -> tuple[Check, ...]:
    """What governs first; what was not checked last."""
    return tuple(sorted(checks, key=lambda check: (not check.checked, -(check.share or 0))))


def _sources(draft: Draft) -> tuple[str, ...]:
    """Every source used, with its grades, in order of first use."""
    grades: dict[str, list[str]] = {}
    for rule in draft.book.used.values():
        title = rule.source if rule.edition in ("-", "undated") else f"{rule.source} ({rule.edition})"
        seen = grades.setdefault(title, [])
        if rule.grade not in seen:
            seen.append(rule.grade)
    for source, edition, grade in draft.documents:
        seen = grades.setdefault(source if edition == "-" else f"{source} ({edition})", [])
        if grade not in seen:
            seen.append(grade)
    return tuple(f"{title}: grade {', '.join(sorted(found))}" for title, found in grades.items())
