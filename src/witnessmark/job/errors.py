"""The world says no: one exception class, holding what a maker needs to put it right."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Trouble:
    """One thing that is wrong: where, what, by how much (in words), and what to do, likeliest first."""

    where: str
    what: str
    remedies: tuple[str, ...] = ()
    by: str = ""

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" + (f" ({self.by})" if self.by else "")
        return "\n".join([head, *(f"  - {remedy}" for remedy in self.remedies)])


class Refusal(Exception):
    """The tool cannot go on with what it was given; every trouble found is in ``troubles``.

    A plain exception that holds frozen records, so that it survives pickling and ``with`` blocks.
    """

    def __init__(self, *troubles: Trouble) -> None:
        super().__init__(*troubles)
        self.troubles = troubles

    def __str__(self) -> str:
        return "\n".join(str(trouble) for trouble in self.troubles)

    def __reduce__(self) -> tuple[Any, ...]:
        return (type(self), self.troubles)


def refuse(where: str, what: str, *remedies: str, by: str = "") -> Refusal:
    """Build a refusal of one trouble: ``raise refuse("job.toml, travel_x_mm", "is negative", "...")``."""
    return Refusal(Trouble(where, what, remedies, by))
