"""The year of a place: the moisture that wood comes to in its dry and in its wet season.

Question  between which moisture contents does a piece live, and what is it now
Units     degrees C, relative humidity as a ratio, moisture in percent of the dry weight
Method    the equilibrium of two climates that the maker types; thick or finished wood lags behind and stays within
Source    see ``moisture``
Valid     indoors; a piece that has lain long enough in each season reaches its ends
Refuses   climates outside of what is known, moisture above saturation (ValueError)
"""

from __future__ import annotations

from dataclasses import dataclass

from .moisture import equilibrium_pct
from .movement import SATURATED_PCT


@dataclass(frozen=True)
class Climate:
    """The air of a season."""

    temperature_c: float
    humidity_ratio: float

    @property
    def moisture_pct(self) -> float:
        """What wood comes to in it."""
        return float(equilibrium_pct(self.temperature_c, self.humidity_ratio))


@dataclass(frozen=True)
class Year:
    """Two climates, whichever is the drier, and the moisture that a meter reads now."""

    one: Climate
    other: Climate
    now_pct: float

    def __post_init__(self) -> None:
        if not 0.0 < self.now_pct < SATURATED_PCT:
            raise ValueError(f"a moisture content of {self.now_pct:g} % is not that of wood that can be worked")

    @property
    def range_pct(self) -> tuple[float, float]:
        """The driest and the dampest it becomes."""
        low, high = sorted((self.one.moisture_pct, self.other.moisture_pct))
        return low, high
