"""Help as a teacher reads it: what to put is said by a word in capitals, never by the type that a program gives it."""

from __future__ import annotations

import re
from typing import Any

from typer.core import TyperCommand

TYPE = re.compile(r" ?<[^>]*>(\.\.\.)?")  # NAME <str>
RANGE = re.compile(r"(; )?(\d+<=)?x(>=|<=)\d+")  # [default: 20; x>=1]


class Plain(TyperCommand):
    """A command whose help names no types; how they are shown differs between versions of the library."""

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """NAME..., not {NAME}...; what may be left out stays in brackets."""
        return [re.sub(r"[{}]", "", piece) for piece in super().collect_usage_pieces(ctx)]

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """What is to be named, then what may be said."""
        for kind, heading in (("argument", "Arguments"), ("option", "Options")):
            told = [param.get_help_record(ctx) for param in self.get_params(ctx) if param.param_type_name == kind]
            rows = [(TYPE.sub("", name), RANGE.sub("", text).replace("  []", "")) for name, text in filter(None, told)]
            if rows:
                with formatter.section(heading):
                    formatter.write_dl(rows)
