"""How a long computation tells how far it is, and how it is stopped."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """Called with a share done (0 to 1) and what is being done; raises ``Stopped`` when the user wants to stop."""

    def __call__(self, share: float, doing: str) -> None:
        """Tell that ``share`` is done and what comes now."""


def silent(share: float, doing: str) -> None:
    """Progress that tells nobody."""
