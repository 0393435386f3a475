"""A linear problem put together from arrays: columns, rows, and what stands where they meet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

#: Stands for a column that does not exist; whatever is put there is left out.
ABSENT = -1


@dataclass(frozen=True)
class LinearProgram:
    """Minimise ``cost · x`` within bounds of columns and rows; the matrix by columns.

    Every column has finite bounds, so that any set of row duals proves a lower bound.
    """

    cost: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    row_lower: np.ndarray
    row_upper: np.ndarray
    starts: np.ndarray  # where each column begins in ``rows`` and ``values``; one more at the end
    rows: np.ndarray
    values: np.ndarray
    is_whole: np.ndarray | None = None  # by column: whether only whole numbers count; ``None``: nowhere

    @property
    def columns(self) -> np.ndarray:
        """Column of every matrix entry."""
        return np.repeat(np.arange(len(self.cost)), np.diff(self.starts))


class LinearModel:
    """Collects columns, rows and entries in any order, then freezes them."""

    def __init__(self) -> None:
        self._columns: list[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]] = []
        self._rows: list[tuple[np.ndarray, np.ndarray]] = []
        self._entries: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
        self._column_count = self._row_count = 0

    def copy(self) -> LinearModel:
        """What has been collected so far, to add to without changing this."""
        other = LinearModel()
        other._columns, other._rows, other._entries = [*self._columns], [*self._rows], [*self._entries]
        other._column_count, other._row_count = self._column_count, self._row_count
        return other

    def columns(self, shape: tuple[int, ...] | int, *, upper, lower=0.0, cost=0.0,
                is_whole: bool = False) -> np.ndarray:
        """New columns of a shape; bounds and cost are broadcast to it. Their numbers in that shape.

        A column that cannot be other than zero is not made: its number is ``ABSENT``.
        """
        low, high, price = (np.broadcast_to(np.asarray(a, float), shape) for a in (lower, upper, cost))
        exists = (high > 0) | (low != 0)
        numbers = np.full(shape, ABSENT)
        numbers[exists] = self._column_count + np.arange(int(exists.sum()))
        self._columns.append((low[exists], high[exists], price[exists], np.full(int(exists.sum()), is_whole)))
        self._column_count += int(exists.sum())
        return numbers

    def rows(self, shape: tuple[int, ...] | int, *, lower=-np.inf, upper=np.inf) -> np.ndarray:
        """New rows of a shape; bounds are broadcast to it. Their numbers in that shape."""
        low, high = (np.broadcast_to(np.asarray(a, float), shape).ravel() for a in (lower, upper))
        numbers = (self._row_count + np.arange(low.size)).reshape(shape)
        self._rows.append((low, high))
        self._row_count += low.size
        return numbers

    def put(self, rows, columns, values) -> None:
        """Add entries; the three are broadcast together, and what stands at one place adds up.

        Entries of absent columns and zeros are left out.
        """
        row, column, value = (a.ravel() for a in np.broadcast_arrays(rows, columns, np.asarray(values, float)))
        kept = (column != ABSENT) & (value != 0)
        self._entries.append((row[kept], column[kept], value[kept]))

    def freeze(self) -> LinearProgram:
        lower, upper, cost, is_whole = (np.concatenate(parts) for parts in zip(*self._columns, strict=True))
        row_lower, row_upper = (np.concatenate(parts) for parts in zip(*self._rows, strict=True))
        row, column, value = (np.concatenate(parts) for parts in zip(*self._entries, strict=True))
        row, column, value = _added_up(row, column, value)
        starts = np.searchsorted(column, np.arange(self._column_count + 1))
        return LinearProgram(cost, lower, upper, row_lower, row_upper, starts.astype(np.int32),
                             row.astype(np.int32), value, is_whole if is_whole.any() else None)


def _added_up(row: np.ndarray, column: np.ndarray, value: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Entries by column, then row; what stands at one place is added up."""
    order = np.lexsort((row, column))
    row, column, value = row[order], column[order], value[order]
    is_first = np.append(True, (np.diff(row) != 0) | (np.diff(column) != 0))
    return row[is_first], column[is_first], np.add.reduceat(value, np.flatnonzero(is_first))
