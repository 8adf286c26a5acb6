"""Which phone may upload: a one-time code shown on the teacher's machine, then a random token in a cookie."""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable

LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # none that look alike
LENGTH = 8  # 31^8 codes, about 40 bits
CODE_SECONDS = 600.0
TOKEN_SECONDS = 12 * 3600.0
TRIES = 10  # wrong codes until the teacher asks for a new one
COOKIE = "curator_phone"


class Pairing:
    """Codes and tokens, in memory only: a restart forgets all phones."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._code = ""
        self._until = 0.0
        self._tries = 0
        self._tokens: dict[str, float] = {}

    def code(self, *, new: bool = False) -> str:
        """The code in force. A new one only when the teacher asks, or the old one was used or has expired."""
        with self._lock:
            spent = not self._code or self._clock() > self._until
            if new or (spent and self._tries < TRIES):
                self._code = "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
                self._until = self._clock() + CODE_SECONDS
                self._tries = 0
            return self._code if self._clock() <= self._until else ""

    def _right(self, given: str) -> bool:
        if self._tries >= TRIES or not self._code or self._clock() > self._until:
            return False
        right = secrets.compare_digest(given.strip().upper().encode(), self._code.encode())
        if not right:
            self._tries += 1
        return right

    def knows_code(self, given: str) -> bool:
        """Whether the code is right, without using it up; a wrong one counts as a try."""
        with self._lock:
            return self._right(given)

    def pair(self, given: str) -> str:
        """A phone's token for the right code, which is used up; "" for a wrong one."""
        with self._lock:
            if not self._right(given):
                return ""
            self._code = ""
            token = secrets.token_urlsafe(32)
            self._tokens[token] = self._clock() + TOKEN_SECONDS
            return token

    def knows(self, token: str) -> bool:
        """Whether the token is of a paired phone."""
        given = token.encode()
        with self._lock:
            alive = [t for t, until in self._tokens.items() if until > self._clock()]
        found = [secrets.compare_digest(given, t.encode()) for t in alive]
        return any(found)
