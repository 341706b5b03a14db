"""The one way to read TOML: the standard library's from Python 3.11, the same reader as a package before."""

import sys

if sys.version_info >= (3, 11):
    import tomllib
else:
    import tomli as tomllib

__all__ = ["tomllib"]
