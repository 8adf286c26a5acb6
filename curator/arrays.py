"""What a set of things says of every one of them, in one array each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:  # as in `records.py`
    import numpy as np
    from numpy.typing import NDArray


class Placed(Protocol):
    """A thing with a box (top, left, bottom, right) and a centre (row, col)."""

    @property
    def box(self) -> tuple[int, int, int, int]: ...

    @property
    def center(self) -> tuple[float, float]: ...


@dataclass(frozen=True, eq=False)
class Arrays:
    """What a set says of every thing, read-only, made once: finders and judge ask hundreds of times."""

    things: tuple[Placed, ...]

    @cached_property
    def centers(self) -> NDArray[np.float64]:
        return self._array(lambda t: t.center).reshape(-1, 2)

    @cached_property
    def boxes(self) -> NDArray[np.float64]:
        return self._array(lambda t: t.box).reshape(-1, 4)

    @cached_property
    def widths(self) -> NDArray[np.float64]:
        top, left, bottom, right = self.boxes.T
        widths: NDArray[np.float64] = ((bottom - top) + (right - left)) / 2
        widths.setflags(write=False)
        return widths

    @cached_property
    def steps(self) -> NDArray[np.float64]:
        import numpy as np
        from scipy.spatial.distance import cdist

        apart = cdist(self.centers, self.centers)
        np.fill_diagonal(apart, np.inf)
        steps: NDArray[np.float64] = apart.min(axis=1, initial=np.inf)
        steps.setflags(write=False)
        return steps

    def _array(self, of: Callable[[Placed], float | tuple[float, ...]]) -> NDArray[np.float64]:
        import numpy as np

        made = np.array([of(t) for t in self.things], dtype=np.float64)
        made.setflags(write=False)
        return made
