"""Which phone may upload: a one-time code shown on the teacher's machine, then a random token in a cookie."""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # none that look alike
LENGTH = 8  # 31^8 codes, about 40 bits
CODE_SECONDS = 600.0
TOKEN_SECONDS = 12 * 3600.0
TRIES = 10  # wrong codes until the teacher asks for a new one
COOKIE = "curator_phone"


DEAD = {
    "used": "That code was used already; a code works once.",
    "over": "That code is older than ten minutes.",
    "tries": "Too many wrong codes were tried.",
    "wrong": "That code is not right.",
}


@dataclass(frozen=True, slots=True)
class Phone:
    """One that was paired."""

    id: str  # 8 hex digits; no secret
    name: str
    since: float  # on the clock of its Pairing
    until: float


class Pairing:
    """Codes and tokens, in memory only: a restart forgets all phones."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._code = ""
        self._until = 0.0
        self._tries = 0
        self._used: list[str] = []  # codes that opened the door, to say so
        self._phones: dict[str, Phone] = {}  # by token
        self._count = 0

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

    def why_dead(self, given: str) -> str:
        """Why a code opens nothing: one of DEAD. Only who typed a real code of before learns more than "wrong"."""
        typed = given.strip().upper()
        with self._lock:
            if self._tries >= TRIES:
                return "tries"
            if any(secrets.compare_digest(typed.encode(), old.encode()) for old in self._used):
                return "used"
            is_old = self._code and secrets.compare_digest(typed.encode(), self._code.encode())
            return "over" if is_old and self._clock() > self._until else "wrong"

    def pair(self, given: str) -> str:
        """A phone's token for the right code, which is used up; "" for a wrong one."""
        with self._lock:
            if not self._right(given):
                return ""
            self._used = [*self._used[-19:], self._code]
            self._code = ""
            token, now = secrets.token_urlsafe(32), self._clock()
            self._count += 1
            self._phones[token] = Phone(secrets.token_hex(4), f"Phone {self._count}", now, now + TOKEN_SECONDS)
            return token

    def knows(self, token: str) -> bool:
        """Whether the token is of a paired phone."""
        return bool(self.whose(token))

    def whose(self, token: str) -> str:
        """The id of the paired phone whose token it is; "" for none."""
        given = token.encode()
        with self._lock:
            alive = [(t, phone) for t, phone in self._phones.items() if phone.until > self._clock()]
        found = [phone.id for t, phone in alive if secrets.compare_digest(given, t.encode())]
        return found[0] if found else ""

    def phones(self) -> list[dict[str, object]]:
        """Those that may send now: id, name, and how many minutes ago each was paired."""
        with self._lock:
            now = self._clock()
            alive = [phone for phone in self._phones.values() if phone.until > now]
        return [{"id": one.id, "name": one.name, "since": int((now - one.since) // 60)} for one in alive]

    def revoke(self, phone: str) -> bool:
        """Let a phone in no more; whether there was one of that id."""
        with self._lock:
            gone = [token for token, one in self._phones.items() if one.id == phone]
            for token in gone:
                del self._phones[token]
        return bool(gone)
