"""Where packaged data lies: beside the code in a wheel, at the top of the tree in a checkout."""

from pathlib import Path

from callout.errors import CalloutError

_PACKAGE = Path(__file__).resolve().parent


def data_folder(name: str) -> Path:
    """Return the folder `name` ("grammars", "audio_fixtures") wherever this installation keeps it."""
    for place in (_PACKAGE / name, _PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise CalloutError(f"the folder {name!r} is missing from this installation; install callout again")
