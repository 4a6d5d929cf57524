"""The three kinds of fault, kept apart.

* The user's mistake: :class:`Mistake` values, all told at once, carried by :class:`BadInput`.
* A fault of the design: a :class:`~ringwright.terms.remark.Remark`.
* A fault of computing: :class:`ComputingFault`, never a log line.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mistake:
    """What is wrong in what the user gave: ``where`` (file, line, field), ``what``, and what would be ``right``."""

    where: str
    what: str
    right: str

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        return f"{place}{self.what}; {self.right}" if self.right else f"{place}{self.what}"


class BadInput(Exception):
    """The user's mistakes, all of them. Raised by readers and steps, caught at the edge and told in plain words."""

    def __init__(self, *mistakes: Mistake) -> None:
        super().__init__("\n".join(str(m) for m in mistakes))
        self.mistakes = mistakes


def bad(where: str, what: str, right: str) -> BadInput:
    """One mistake, ready to raise."""
    return BadInput(Mistake(where, what, right))


class ComputingFault(Exception):
    """A computation did not do what it must (no convergence, energy not conserved). Says with which figure."""


class Stopped(Exception):
    """The user asked a running making to stop; raised by the progress callback."""
