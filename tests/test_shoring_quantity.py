"""The typed quantity against a general units library (pint): same numbers, same refusals."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from callout.shoring.units import UNITS, DimensionError, Quantity, q
from tests.checks_shoring import UNHURRIED
from tests.outside_units import units

#: our unit -> pint's. A pcf is a weight per volume, so a pound-force.
PINT = {
    "1": "dimensionless", "lb": "pound_force", "kip": "kip", "N": "newton", "kN": "kilonewton",
    "in": "inch", "ft": "foot", "mm": "millimeter", "in2": "inch**2", "ft2": "foot**2", "in4": "inch**4",
    "mm4": "millimeter**4", "in/ft": "inch/foot", "psi": "psi", "ksi": "ksi", "psf": "pound_force/foot**2",
    "GPa": "gigapascal", "pcf": "pound_force/foot**3", "kPa": "kilopascal", "kN/m3": "kilonewton/meter**3",
}  # fmt: skip
UNIT_NAMES = sorted(PINT)


def test_every_unit_is_compared() -> None:
    assert set(UNITS) - set(PINT) == {"deg"}  # a bare number of degrees, never mixed with a length


@pytest.mark.parametrize("unit", UNIT_NAMES)
def test_every_unit_has_the_size_that_pint_gives_it(unit: str) -> None:
    for other in UNIT_NAMES:
        ours_fit = UNITS[unit][1] == UNITS[other][1]
        theirs = units().Quantity(1.0, PINT[unit])
        assert theirs.is_compatible_with(PINT[other]) == ours_fit
        if ours_fit:
            assert q(1.0, unit).to(other) == pytest.approx(theirs.to(PINT[other]).magnitude, rel=1e-9)
        else:
            with pytest.raises(DimensionError):
                q(1.0, unit).to(other)


def test_a_pound_is_not_added_to_an_inch() -> None:
    with pytest.raises(DimensionError):
        q(1, "lb") + q(1, "in")
    with pytest.raises(DimensionError):
        q(1, "lb") - q(1, "psi")
    with pytest.raises(DimensionError):
        assert q(1, "lb") < q(2, "ft")
    with pytest.raises(DimensionError):
        float(q(1, "lb"))


@UNHURRIED
@given(st.sampled_from(UNIT_NAMES), st.sampled_from(UNIT_NAMES), st.floats(0.1, 1e4), st.floats(0.1, 1e4))
def test_products_quotients_and_powers_keep_dimensions_as_pint_does(u: str, v: str, a: float, b: float) -> None:
    ours, theirs = q(a, u) * q(b, v) / q(1, "in") ** 2, None
    theirs = units().Quantity(a, PINT[u]) * units().Quantity(b, PINT[v]) / units().Quantity(1, "inch") ** 2
    base = theirs.to(units().pound_force ** ours.powers[0] * units().inch ** ours.powers[1])
    assert ours.value == pytest.approx(base.magnitude, rel=1e-9)


@UNHURRIED
@given(st.sampled_from(UNIT_NAMES), st.floats(-1e6, 1e6))
def test_there_and_back(unit: str, value: float) -> None:
    assert q(value, unit).to(unit) == pytest.approx(value, rel=1e-12, abs=1e-12)


@UNHURRIED
@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))
def test_sums_are_plain_sums(a: float, b: float) -> None:
    assert (q(a, "lb") + q(b, "lb")).value == a + b
    assert (2 * q(a, "lb")).value == (q(a, "lb") * 2).value == 2 * a
    assert (q(a, "lb") <= q(b, "lb")) == (a <= b)
    assert isinstance(q(a, "lb"), Quantity)
