"""One request to everything a crew must carry, cut and fix: pure and exact.

`feasible(build)` says in one clause whether a build can be.
"""

from callout.shoring.build import feasible

__all__ = ["feasible"]
