"""Rounding many values at once beside rounding one."""

import numpy as np
from hypothesis import example, given
from hypothesis import strategies as st

from builder.wording import rate_decimals, rate_decimals_many, rounded, rounded_many

# Source: decimal arithmetic of the Python library (ROUND_HALF_UP on a number's shortest text), which `rounded` is.
TIES = st.builds(lambda whole, tenths: float(f"{whole}.{tenths}5"), st.integers(-9999, 9999), st.integers(0, 9))
VALUES = st.one_of(TIES, st.floats(-1e6, 1e6), st.floats(-1e15, 1e15), st.integers(-500, 500).map(lambda n: n / 2))


@given(st.lists(VALUES, min_size=1, max_size=20), st.integers(0, 3))
@example([2.675, 1.005, 0.5, -0.5, 0.49999999999999994, 99.95, -0.05], 1)
@example([2.675, 1.005, 0.5, -0.5, 0.49999999999999994, 8.345], 2)
def test_many_are_rounded_as_one(values, decimals):
    found = rounded_many(np.array(values), decimals)
    assert [int(n) for n in found] == [int(rounded(v, decimals).scaleb(decimals)) for v in values]


@given(st.lists(st.tuples(VALUES, st.integers(0, 1)), min_size=1, max_size=20))
def test_each_may_have_its_own_decimals(values):
    found = rounded_many(np.array([v for v, _ in values]), np.array([d for _, d in values]))
    assert [int(n) for n in found] == [int(rounded(v, d).scaleb(d)) for v, d in values]


@given(st.floats(0, 1000), st.floats(0, 1000))
@example(100.0, 99.99999999999999)
def test_decimals_of_many_pairs(a, b):
    assert rate_decimals_many(np.array([a]), np.array([b]))[0] == rate_decimals(a, b)
