"""Pages of HTML: one head for all of them. Each is one file, without a network, light or dark, and to print.

A page is a template beside the code that fills it, and extends `base.html` of this folder.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import jinja2

_HERE = Path(__file__).parent


def render(template: Path, **values: Any) -> str:
    """The page that `template` makes of `values`. Text is made harmless; a value that is missing is an error."""
    return _environment(template.parent).get_template(template.name).render(**values)


@lru_cache
def _environment(folder: Path) -> jinja2.Environment:
    import jinja2  # most commands make no page

    return jinja2.Environment(
        loader=jinja2.FileSystemLoader([folder, _HERE]), autoescape=True, undefined=jinja2.StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
