"""Plots as SVG text, drawn here so that the page opens without network and without a library."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Any

COLOURS = {
    "right": "#2a7f4f", "wrong_accepted": "#b3261e", "asked_again": "#c28a00", "not_heard": "#7a7a7a",
    "wrong": "#b3261e", "missed": "#7a7a7a",
}  # fmt: skip

_LINES = ("#1b5e9b", "#b3261e", "#2a7f4f", "#8a4fa3", "#c28a00", "#00707a", "#7a7a7a", "#a3562a")


def bars(rows: Sequence[tuple[str, dict[str, Any]]], verdicts: Sequence[str], title: str = "") -> str:
    """A bar a row, divided by verdict, with the interval of "right" drawn over it. `rows`: (name, shares). `title` is
    what a screen reader says of it, before the share right of each row."""
    width, left, step = 640, 190, 24
    parts = []
    for place, (name, figures) in enumerate(rows):
        y, x = place * step + 4, float(left)
        parts.append(f'<text x="{left - 6}" y="{y + 12}" text-anchor="end">{escape(name[:30])}</text>')
        for verdict in verdicts:
            wide = figures[verdict]["share"] * (width - left - 50)
            if wide:
                title = f"{verdict.replace('_', ' ')} {figures[verdict]['share']:.1%}"
                parts.append(
                    f'<rect x="{x:.1f}" y="{y}" width="{wide:.1f}" height="16" fill="{COLOURS[verdict]}">'
                    f"<title>{title}</title></rect>"
                )
            x += wide
        low, high = (left + figures["right"][end] * (width - left - 50) for end in ("low", "high"))
        parts.append(
            f'<path d="M{low:.1f} {y + 8}H{high:.1f}M{low:.1f} {y + 4}v8M{high:.1f} {y + 4}v8" stroke="currentColor"/>'
        )
        parts.append(f'<text x="{width - 46}" y="{y + 12}">n {figures["n"]}</text>')
    told = "; ".join(f"{name} {figures['right']['share']:.1%} right of {figures['n']}" for name, figures in rows)
    return _svg(width, len(rows) * step + 8, "".join(parts), title, told)


def curve(points: Sequence[dict[str, Any]]) -> str:
    """Share right against signal-to-noise ratio, a line for each channel, each point with its interval."""
    width, height, left, top, bottom = 640, 300, 50, 16, 40
    levels = [point["snr_db"] for point in points]
    low, high = min(levels), max(levels)
    span = (high - low) or 1.0

    def x(level: float) -> float:
        return float(left + (level - low) / span * (width - left - 170) + 10)

    def y(share: float) -> float:
        return top + (1 - share) * (height - top - bottom)

    parts = [
        f'<path d="M{left} {y(s):.1f}H{width - 150}" stroke="currentColor" stroke-opacity=".3"/>'
        f'<text x="{left - 6}" y="{y(s) + 4:.1f}" text-anchor="end">{s:.0%}</text>'
        for s in (0, 0.25, 0.5, 0.75, 1)
    ]
    for level in sorted(set(levels)):
        parts.append(f'<text x="{x(level):.1f}" y="{height - 18}" text-anchor="middle">{level:g}</text>')
    parts.append(f'<text x="{(left + width - 150) / 2}" y="{height - 2}" text-anchor="middle">noise ratio, dB</text>')
    names = sorted({point["channel"] for point in points})
    for place, name in enumerate(names):
        colour = _LINES[place % len(_LINES)]
        mine = sorted((p for p in points if p["channel"] == name), key=lambda p: p["snr_db"])
        line = " ".join(f"{x(p['snr_db']):.1f},{y(p['right']['share']):.1f}" for p in mine)
        parts.append(f'<polyline points="{line}" fill="none" stroke="{colour}" stroke-width="2"/>')
        for p in mine:
            at, middle = x(p["snr_db"]), y(p["right"]["share"])
            up, down = y(p["right"]["high"]), y(p["right"]["low"])
            title = f"{name} {p['snr_db']:g} dB: {p['right']['share']:.1%} of {p['n']}"
            parts.append(
                f'<path d="M{at:.1f} {up:.1f}V{down:.1f}" stroke="{colour}"/>'
                f'<circle cx="{at:.1f}" cy="{middle:.1f}" r="4" fill="{colour}"><title>{escape(title)}</title></circle>'
            )
        parts.append(f'<text x="{width - 144}" y="{top + 14 + place * 18}" fill="{colour}">{escape(name)}</text>')
    told = "; ".join(f"{p['channel']} {p['snr_db']:g} dB: {p['right']['share']:.1%} of {p['n']}" for p in points)
    return _svg(width, height, "".join(parts), "Share right, by signal-to-noise ratio", told)


def matrix(confusion: Sequence[Sequence[Any]], order: Sequence[str]) -> str:
    """Number words said (down) against heard (across); the darker, the more often."""
    words = [w for w in order if any(w in (said, heard) for said, heard, _ in confusion)]
    size, left = 24, 90
    counts = {(said, heard): n for said, heard, n in confusion}
    totals = {word: sum(n for said, _, n in confusion if said == word) for word in words}
    parts = []
    for row, said in enumerate(words):
        y = left + row * size
        parts.append(f'<text x="{left - 6}" y="{y + 16}" text-anchor="end">{escape(said)}</text>')
        x0 = left + row * size + 15
        parts.append(f'<text transform="translate({x0},{left - 6}) rotate(-90)">{escape(said)}</text>')
        for column, heard in enumerate(words):
            n = counts.get((said, heard), 0)
            if n:
                colour = COLOURS["right"] if said == heard else COLOURS["wrong_accepted"]
                strength = 0.15 + 0.85 * n / max(totals[said], 1)
                parts.append(
                    f'<rect x="{left + column * size}" y="{y}" width="{size}" height="{size}" fill="{colour}" '
                    f'fill-opacity="{strength:.2f}"><title>{escape(said)} heard as {escape(heard)}: {n}</title></rect>'
                    f'<text x="{left + column * size + 12}" y="{y + 16}" text-anchor="middle">{n}</text>'
                )
    side = left + len(words) * size + 4
    wrong = [(said, heard, n) for said, heard, n in confusion if said != heard]
    told = "; ".join(f"{said} heard as {heard} {n} times" for said, heard, n in sorted(wrong, key=lambda w: -w[2])[:20])
    return _svg(side, side, "".join(parts), "Number words said, and what they were heard as", told or "none mistaken")


def wave(peaks: Sequence[int], title: str) -> str:
    """A waveform from its peaks (0 to 99, evenly spaced in time)."""
    points = "".join(f"M{x} {50 - p / 2:g}V{50 + p / 2:g}" for x, p in enumerate(peaks))
    return _svg(max(1, len(peaks)), 100, f'<path d="{points}" stroke="currentColor"/>', title, "")


def _svg(width: int, height: int, inside: str, title: str, told: str) -> str:
    """With a title and a description for whoever cannot see it. Letters take the colour of the page."""
    words = f"<title>{escape(title)}</title>" + (f"<desc>{escape(told)}</desc>" if told else "")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" role="img" '
        f'aria-label="{escape(f"{title}. {told}" if told else title, quote=True)}" font-family="sans-serif" '
        f'font-size="12" fill="currentColor">{words}{inside}</svg>'
    )
