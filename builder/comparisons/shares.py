"""What many devices have in columns they may share (sessions, spots, kits), and how far apart any two are in them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]

_NEAR = 1e-6  # a difference this small beside what it is made of lost its digits in the product: it is taken anew
_FEW = 12  # so many columns are as quick one by one
_ENTRIES = 1_000_000  # numbers held at a time when differences are taken anew


@dataclass(frozen=True, slots=True)
class Shares:
    """What n sides have, an entry a side and column, shape (m,); by side, and there in the order of the columns.

    first  the place at which a side's column was met first, of those `shares` was given
    """

    n: int
    side: Numbers
    column: Numbers
    amount: Floats
    first: Numbers

    def squares(self, factor: Floats | float = 1.0) -> Floats:
        """Sum of factor * amount^2 over each side's entries, shape (n,); a factor for all or one an entry."""
        return added_up(self.side, factor * self.amount**2, self.n)


def shares(n: int, side: Numbers, column: Numbers, amount: Floats) -> Shares:
    """Amounts of one side and column added up, in the order given. All three have one shape."""
    columns = int(column.max(initial=0)) + 1
    kept, first, inverse = np.unique(side * columns + column, return_index=True, return_inverse=True)
    return Shares(n, side[first], column[first], added_up(inverse, amount, len(kept)), first)


def added_up(places: Numbers, amounts: Floats, n: int) -> Floats:
    """Sum of the amounts of each of n places, in the order given, shape (n,)."""
    return np.asarray(np.bincount(places, weights=amounts, minlength=n), dtype=np.float64)


class SquaredDifferences:
    """Sum over columns of (amount of a - amount of b)^2, a side without an entry having 0, for blocks of pairs."""

    def __init__(self, shares: Shares, scale: Floats | float = 1.0) -> None:
        """scale  what amounts are multiplied with: one for all, or one an entry."""
        amount = shares.amount * scale
        common = np.bincount(shares.column)[shares.column] > 1 if len(amount) else np.zeros(0, dtype=np.bool_)
        # What nobody shares cancels with nothing, and needs no column.
        self._alone = added_up(shares.side[~common], amount[~common] ** 2, shares.n)
        columns, place = np.unique(shares.column[common], return_inverse=True)
        self._amounts = np.zeros((shares.n, len(columns)))
        self._amounts[shares.side[common], place] = amount[common]
        self._squares = (self._amounts**2).sum(axis=1)

    def of(self, rows: slice, columns: slice) -> Floats:
        """Of the sides *rows* with the sides *columns*, shape (rows, columns)."""
        found = self._plain(rows, columns) if self._amounts.shape[1] <= _FEW else self._product(rows, columns)
        found += self._alone[rows, np.newaxis]
        found += self._alone[columns]
        return found

    def _plain(self, rows: slice, columns: slice) -> Floats:
        a, b = self._amounts[rows].T, self._amounts[columns].T
        found = np.zeros((a.shape[1], b.shape[1]))
        for of_a, of_b in zip(a, b, strict=True):
            found += (of_a[:, np.newaxis] - of_b) ** 2
        return found

    def _product(self, rows: slice, columns: slice) -> Floats:
        a, b = self._amounts[rows], self._amounts[columns]
        found: Floats = (-2 * a) @ b.T
        found += self._squares[rows, np.newaxis]
        found += self._squares[columns]
        at_row, at_column = np.nonzero(found <= _NEAR * self._squares[rows, np.newaxis])
        for some in _portions(len(at_row), max(1, _ENTRIES // a.shape[1])):
            difference = a[at_row[some]] - b[at_column[some]]
            found[at_row[some], at_column[some]] = (difference**2).sum(axis=1)
        return found


def _portions(length: int, most: int) -> Iterator[slice]:
    for start in range(0, length, most):
        yield slice(start, start + most)
