"""Every sample picture's row, in the order of truth.yaml."""

from __future__ import annotations

from curator.learning.samples import rows_few, rows_many, rows_more, rows_without

SPECS = (*rows_few.ROWS, *rows_more.ROWS, *rows_many.ROWS, *rows_without.ROWS)
