"""The door of an app that is open to the network: a passphrase, sessions, and a wait after each wrong one."""

from __future__ import annotations

import asyncio
import hashlib
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

from ringwright.terms.mistake import bad

SHORTEST = 12
"""Letters that a passphrase must have at least."""

SESSION_S = 12 * 3600.0
"""A session that was not used for so long is over."""

LONGEST_WAIT_S = 60.0
_REMEMBERED = 1000
_MOST_SESSIONS = 100


@dataclass
class Wrong:
    """How often somebody was wrong, and when the next word is listened to."""

    count: int = 0
    next_at: float = 0.0


class Door:
    """Lets in who knows the passphrase. Only its argon2 hash is kept, and of a session only the hash of its token.

    ``pause_s`` is what the answer to a wrong passphrase takes at least; the clock is given so that tests need not wait.
    """

    def __init__(self, passphrase: str, *, pause_s: float = 1.0, clock: Callable[[], float] = time.monotonic) -> None:
        from argon2 import PasswordHasher

        if len(passphrase) < SHORTEST:
            raise bad(
                "passphrase",
                f"it has {len(passphrase)} letters",
                f"give at least {SHORTEST}; four words that have nothing to do with one another are good",
            )
        self._hasher = PasswordHasher()
        self._hash = self._hasher.hash(passphrase)
        self._pause_s = pause_s
        self._clock = clock
        self._sessions: OrderedDict[str, float] = OrderedDict()
        self._wrong: OrderedDict[str, Wrong] = OrderedDict()
        self._one_at_a_time = asyncio.Lock()

    def wait_s(self, client: str) -> float:
        """How long this client is not listened to."""
        wrong = self._wrong.get(client)
        return max(0.0, wrong.next_at - self._clock()) if wrong else 0.0

    async def enter(self, client: str, passphrase: str) -> str | None:
        """The token of a new session, or None where the passphrase is wrong or the client must still wait."""
        if self.wait_s(client) > 0:
            return None
        async with self._one_at_a_time:  # each check takes 64 MB for a moment
            right = await asyncio.to_thread(self._fits, passphrase[:1000])
        if right:
            self._wrong.pop(client, None)
            token = secrets.token_urlsafe(32)
            self._sessions[_hashed(token)] = self._clock() + SESSION_S
            while len(self._sessions) > _MOST_SESSIONS:
                self._sessions.popitem(last=False)
            return token
        wrong = self._wrong.setdefault(client, Wrong())
        wrong.count += 1
        wrong.next_at = self._clock() + min(LONGEST_WAIT_S, self._pause_s * 2.0 ** min(wrong.count, 10))
        while len(self._wrong) > _REMEMBERED:
            self._wrong.popitem(last=False)
        await asyncio.sleep(self._pause_s)
        return None

    def knows(self, token: str) -> bool:
        """Whether a session of that token stands; it stands for longer each time that it is used."""
        name = _hashed(token)
        until = self._sessions.get(name)
        now = self._clock()
        if until is None or until < now:
            self._sessions.pop(name, None)
            return False
        self._sessions[name] = now + SESSION_S
        self._sessions.move_to_end(name)
        return True

    def leave(self, token: str) -> None:
        """End a session."""
        self._sessions.pop(_hashed(token), None)

    def _fits(self, passphrase: str) -> bool:
        from argon2.exceptions import VerificationError

        try:
            return self._hasher.verify(self._hash, passphrase)
        except VerificationError:
            return False


def _hashed(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
