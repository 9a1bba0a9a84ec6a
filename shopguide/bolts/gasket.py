"""The gasket along the rim, as springs at its nodes: what it pushes back when it is pressed.

Two laws. Linear: the same stiffness whichever way, pull as well as push (for checks; closed forms
hold for it). One-way: it is pressed along one stiffness, springs back along another eight times as
high from the most it was ever pressed, so that most of it stays pressed; and it never pulls. The
shape of the second follows tests of sheet gaskets; the figure eight is assumed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

BACK = 8.0
"""How much stiffer a one-way gasket springs back than it is pressed; assumed."""

TRACE = 1e-5
"""What is left of a one-way gasket's stiffness where it is lifted off: so little that it tells
nothing, and enough that a part which hardly touches anything has a place of rest."""


class LinearGasket:
    """Pushes and pulls alike. springs: N/mm of each node."""

    def __init__(self, springs: np.ndarray) -> None:
        self.springs = springs
        self._slack = springs * 0.0

    def piece(self, pressed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The force at each node as stiffness · pressed + constant, where it stands now."""
        return self.springs, self._slack

    def keep(self, pressed: np.ndarray) -> None:
        """Nothing of it stays."""

    def relax(self, pressed: np.ndarray, share: float) -> None:
        """Loses a share of its load, N, at the same thickness."""
        self._slack = self._slack - share * (self.springs * pressed + self._slack)


class OneWayGasket:
    """Pressed on one line, springs back on a steeper one, never pulls."""

    def __init__(self, springs: np.ndarray, back: float = BACK) -> None:
        self.springs = springs
        self._back = back * springs
        self._most = springs * 0.0
        self._gone = springs * 0.0

    def piece(self, pressed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The force at each node as stiffness · pressed + constant, where it stands now."""
        import numpy as np

        left = pressed - self._gone
        top = self.springs * self._most
        free = self._most - top / self._back
        loading = left >= self._most
        lifted = (left <= free) & ~loading
        trace = TRACE * self.springs
        stiffness = np.where(loading, self.springs, np.where(lifted, trace, self._back))
        constant = np.where(
            loading, 0.0, np.where(lifted, -trace * free, top - self._back * self._most)
        )
        return stiffness, constant - stiffness * self._gone

    def keep(self, pressed: np.ndarray) -> None:
        """Remembers the most it was pressed."""
        import numpy as np

        self._most = np.maximum(self._most, pressed - self._gone)

    def relax(self, pressed: np.ndarray, share: float) -> None:
        """Loses a share of its load at the same thickness: it flows, and is thinner for good."""
        import numpy as np

        self._gone = self._gone + share * np.maximum(0.0, pressed - self._gone)
        self._most = (1.0 - share) * self._most
