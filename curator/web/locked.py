"""The page for who comes without the key: what to do, whole in itself, for none of our files is given out to them."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from functools import cache

from starlette.responses import HTMLResponse
from starlette.types import Scope

from curator.classroom.writers import page
from curator.web.context import templates


@cache
def _dress() -> tuple[str, str]:
    """What it wears, and the policy that lets in these very words and nothing else."""
    style = (page.FILES / "dress.css").read_text(encoding="utf-8")
    seal = base64.b64encode(hashlib.sha256(style.encode("utf-8")).digest()).decode("ascii")
    return style, (
        f"default-src 'none'; style-src 'sha256-{seal}'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
    )


def locked(scope: Scope, status: int, wrong: str, headers: Mapping[str, str]) -> HTMLResponse:
    """What is wrong, and where the link with the key stands; of this server it tells the port alone."""
    style, policy = _dress()
    port = (scope.get("server") or ("", 0))[1] or 8300
    text = templates().get_template("locked.html").render(style=style, wrong=wrong, port=port)
    return HTMLResponse(text, status, {**headers, "content-security-policy": policy, "cache-control": "no-store"})
