"""The envelope that every step yields: the same for each, so that one page can draw any step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

from ringwright.terms.body import Body, Field, Residual, Voxels
from ringwright.terms.remark import Level, Remark, worst

T = TypeVar("T")


@dataclass(frozen=True)
class Outcome(Generic[T]):
    """What a step found.

    ``result`` is the step's own dataclass of figures (never arrays); ``remarks`` what it says of the design;
    ``bodies`` the solids it made, ``fields`` its figures on them; ``residuals`` what its solvers left over;
    ``voxels`` figures inside the solids, on one grid.
    """

    step: str
    result: T
    remarks: tuple[Remark, ...] = ()
    bodies: tuple[Body, ...] = ()
    fields: tuple[Field, ...] = ()
    residuals: tuple[Residual, ...] = ()
    voxels: tuple[Voxels, ...] = ()

    @property
    def verdict(self) -> Level:
        """The gravest level among the remarks."""
        return worst(self.remarks)

    def body(self, name: str) -> Body:
        """The body of that name; ``KeyError`` if there is none."""
        for body in self.bodies:
            if body.name == name:
                return body
        raise KeyError(name)
