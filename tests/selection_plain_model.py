"""The straightforward programme for the first aim: one 0-1 variable for each build, each member and each pattern.

A second formulation beside the code's own (which joins equal needs and equal builds): it must find the same number of
builds, and serves as the peer in the benchmark. It takes spans and pieces only.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix

from callout.shoring.allocation import Need, PieceNeed, SpanNeed
from callout.shoring.selection.patterns import Catalogue, Option, piece_options, span_options
from callout.shoring.stock import Stock


def most_builds_plainly(needs: Mapping[int, Sequence[Need]], stock: Stock) -> int:
    """How many builds can be whole at once."""
    catalogue = Catalogue(stock, [line.quantity for line in stock.lines])
    columns: list[tuple[Option, int, int]] = []  # pattern, the row of its need, upper bound
    rows: list[tuple[int, int]] = []  # (build, how many times)
    for build in sorted(needs):
        for need in needs[build]:
            if isinstance(need, SpanNeed):
                options, times = span_options(need, catalogue), 1
            else:
                assert isinstance(need, PieceNeed)
                options, times = piece_options(need, catalogue), need.quantity
            columns += [(option, len(rows), times) for option in options]
            rows.append((build, times))
    builds = sorted(needs)
    matrix = lil_matrix((len(rows) + len(stock.lines), len(builds) + len(columns)))
    for row, (build, times) in enumerate(rows):
        matrix[row, builds.index(build)] = -times
    for column, (option, row, _) in enumerate(columns, len(builds)):
        matrix[row, column] = 1
        for line, number in option.uses:
            matrix[len(rows) + line, column] = number
    low = [0.0] * len(rows) + [-math.inf] * len(stock.lines)
    high = [0.0] * len(rows) + [float(line.quantity) for line in stock.lines]
    cost = np.array([-1.0] * len(builds) + [0.0] * len(columns))
    result = milp(
        cost,
        integrality=np.ones(len(cost)),
        bounds=Bounds(0, np.array([1.0] * len(builds) + [float(times) for _, _, times in columns])),
        constraints=LinearConstraint(matrix.tocsr(), low, high),
        options={"mip_rel_gap": 0.0},
    )
    assert result.status == 0
    return round(-result.fun)
