"""Intervals and tests against figures published elsewhere."""

from __future__ import annotations

import math

import pytest
from scipy.stats import binomtest

from callout.scoring.statistics import paired, share


@pytest.mark.parametrize(
    ("count", "n", "low", "high"),
    [  # Newcombe (1998), Statistics in Medicine 17, 857-872, table I, method 3 (from memory)
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_intervals_as_newcombe_published_them(count: int, n: int, low: float, high: float) -> None:
    found = share(count, n)
    assert (found["count"], found["share"]) == (count, count / n)
    assert found["low"] == pytest.approx(low, abs=6e-5)
    assert found["high"] == pytest.approx(high, abs=6e-5)


@pytest.mark.parametrize("n", [1, 7, 190, 10_000])
def test_intervals_as_the_formula_of_wilson_gives_them(n: int) -> None:
    """Wilson (1927): the roots of (p - x/n)^2 = z^2 p (1 - p) / n, z = 1.959964 for 95 %."""
    z = 1.959963984540054
    for count in {0, 1, n // 3, n - 1, n}:
        p = count / n
        centre = (p + z * z / (2 * n)) / (1 + z * z / n)
        half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
        found = share(count, n)
        assert found["low"] == pytest.approx(max(centre - half, 0), abs=1e-9)
        assert found["high"] == pytest.approx(min(centre + half, 1), abs=1e-9)


@pytest.mark.parametrize("n", [1, 2, 19, 190, 10_000])
def test_intervals_as_scipy_works_them_out(n: int) -> None:
    for count in {0, 1, n // 3, n // 2, n - 1, n}:
        interval = binomtest(count, n).proportion_ci(0.95, method="wilson")
        found = share(count, n)
        assert (found["low"], found["high"]) == pytest.approx((interval.low, interval.high), abs=1e-12)


def test_nothing_counted_says_nothing() -> None:
    assert share(0, 0) == {"count": 0, "share": 0.0, "low": 0.0, "high": 1.0}


def test_mcnemar_as_in_the_textbook() -> None:
    """Agresti, Categorical Data Analysis, table 10.1: 794, 150, 86, 570; the change is 4.0 points less approval.

    His z squared is (86 - 150)^2 / (86 + 150) = 17.36, p = 3.1e-5; the exact p is a little larger.
    """
    found = paired(794, 86, 150, 570)
    assert found["pairs"] == 1600
    assert found["difference"] == pytest.approx(-0.04, abs=1e-9)
    assert 2e-5 < found["p_value"] < 6e-5
    assert found["low"] == pytest.approx(-0.059, abs=0.001)  # Agresti gives (-0.059, -0.021)
    assert found["high"] == pytest.approx(-0.021, abs=0.001)


def test_mcnemar_is_the_sign_test_on_the_pairs_that_changed() -> None:
    assert paired(50, 1, 8, 10)["p_value"] == pytest.approx(2 * (1 + 9) / 2**9)  # by hand: 20/512
    assert paired(50, 5, 12, 10)["p_value"] == pytest.approx(binomtest(5, 17).pvalue)
    assert paired(50, 0, 0, 10)["p_value"] == 1.0
