"""`callout sizeup`: from what is seen of a damaged wall to the callouts that would shore it, with their sources."""

from __future__ import annotations

from typing import Any, get_args

import click

from callout.cli.plan import LENGTH
from callout.console.output import emit
from callout.values import Callout
from callout.values.sights import Before, Floor, Ground, Soil, Wall


@click.command()
@click.option("--wall-length", type=LENGTH)
@click.option("--wall-height", type=LENGTH)
@click.option("--wall-thickness", type=LENGTH)
@click.option("--wall", type=click.Choice(get_args(Wall)), help="What the wall is made of.")
@click.option("--openings", type=click.IntRange(0, 99), help="Windows and doors in the damaged part.")
@click.option("--floor", type=click.Choice(get_args(Floor)), help="What the floors are made of that the wall carries.")
@click.option("--floors", type=click.IntRange(0, 20), help="How many floors and roofs it carries.")
@click.option("--floor-span", type=LENGTH, help="How far they reach to their next support.")
@click.option("--lean", type=LENGTH, help="How far the wall leans out at the height that is to be held.")
@click.option("--damage-height", type=LENGTH, help="The floor or roof line, or the damage, that is to be held.")
@click.option("--ground", type=click.Choice(get_args(Ground)))
@click.option("--soil", type=click.Choice(get_args(Soil)))
@click.option("--before", type=click.Choice(get_args(Before)), help="What lies in front of the wall.")
@click.option("--room", type=LENGTH, help="How much of the ground in front of the wall is free.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on one line.")
def sizeup(as_json: bool, **seen: Any) -> None:
    """Size up a damaged wall: type, number and spacing of rakers, floors below, clear zone. An estimate, no approval.

    Leave out what nobody knows: it is asked for at the end. The last lines are callouts to say or to plan; each still
    needs its readback and its affirm.

    \b
    callout sizeup --wall-height "14 ft" --wall-length "30 ft" --damage-height "10 ft"
    callout sizeup --wall brick --wall-height "14 ft" --wall-length "30 ft" --wall-thickness "12 in" \\
        --damage-height "10 ft" --floor concrete --floors 2 --floor-span "16 ft" --lean "4 in" --ground soil
    """
    from callout import api
    from callout.shoring.on_paper import wrapped
    from callout.shoring.sizeup import estimate_lines

    found = api.size_up(**{name: value for name, value in seen.items() if value is not None})
    if as_json:
        emit({"sizeup": found.model_dump(mode="json")})
        return
    click.echo(found.caution)
    click.echo("\n".join(estimate_lines(found)))
    for take in found.takes:
        rows = f", {take.rows} such rows" if take.rows > 1 else ""
        click.echo(f"\nTAKE IT, {take.title}{rows}:")
        click.echo("\n".join(wrapped(f"  {callout_phrase(take.callout)}", 4)))


def callout_phrase(callout: Callout) -> str:
    """The words that say a callout, as a measurer would: `callout read` understands them."""
    from callout.language.speak import KIND_WORDS, speak_length, speak_number

    def length(name: str) -> str:
        return speak_length(getattr(callout, name))[1]

    said = [] if callout.kind == "raker" else [KIND_WORDS[callout.kind]]
    if callout.sole is not None:
        said.append(f"{callout.sole} sole")
    said.append(f"insertion {length('insertion')}")
    if callout.angle_deg is not None:
        said.append(speak_number(callout.angle_deg)[1])
    if callout.rakers is not None:
        said.append(f"{speak_number(callout.rakers)[1]} {'raker' if callout.rakers == 1 else 'rakers'}")
    for name in ("spacing", "wall_height", "wall_thickness", "lean"):
        if getattr(callout, name) is not None:
            said.append(f"{name.replace('_', ' ')} {length(name)}")
    if callout.ground is not None:
        said.append(f"on {callout.ground}")
    return ", ".join(said)
