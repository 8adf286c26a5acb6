"""A picture in the terminal where it can show one: by the inline protocols that say their name, or as sixels.

Never in a pipe. The sixels are made by `timg`; the two inline protocols are a PNG in base64 between signs.
"""

from __future__ import annotations

import base64
import io
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import Literal

Way = Literal["inline", "kitty", "sixel", ""]
WIDTH = 640  # pixels: some 64 columns of a usual terminal
CHUNK = 4096  # base64 signs in one piece of the kitty graphics protocol
PATIENCE = 0.3  # seconds that a terminal has to say what it can


def way() -> Way:
    """How pictures can be shown here; "" where they cannot, and in a pipe."""
    if not sys.stdout.isatty() or os.environ.get("TERM") == "dumb":
        return ""
    if os.environ.get("KITTY_WINDOW_ID") or "kitty" in os.environ.get("TERM", ""):
        return "kitty"
    if os.environ.get("TERM_PROGRAM") in ("iTerm.app", "WezTerm", "vscode", "mintty"):
        return "inline"
    return "sixel" if _says_sixel() else ""


def _says_sixel() -> bool:
    """Whether the terminal counts sixels (4) among its attributes when asked (DA1, ECMA-48). POSIX terminals only."""
    try:
        import select
        import termios
        import tty
    except ImportError:  # Windows
        return False
    if not sys.stdin.isatty():
        return False
    handle = sys.stdin.fileno()
    answer = b""
    try:
        before = termios.tcgetattr(handle)
    except termios.error:
        return False
    try:
        tty.setcbreak(handle)
        os.write(sys.stdout.fileno(), b"\x1b[c")
        while not answer.endswith(b"c") and select.select([handle], [], [], PATIENCE)[0]:
            answer += os.read(handle, 64)
    except OSError:
        return False
    finally:
        with suppress(termios.error):
            termios.tcsetattr(handle, termios.TCSADRAIN, before)
    return b"4" in answer.strip(b"\x1b[?c").split(b";")[1:]


def show(path: Path, width: int = WIDTH) -> bool:
    """Draw the picture below the text; whether that was possible."""
    how = way()
    if not how:
        return False
    from PIL import Image

    with Image.open(path) as opened:
        opened.thumbnail((width, 2 * width))
        image = opened.convert("RGB")
    sys.stdout.flush()
    sys.stdout.write(drawn(image, how) + "\n")
    sys.stdout.flush()
    return True


def drawn(image: object, how: Way) -> str:
    """The signs that make a terminal show this picture (a PIL image, RGB)."""
    if how == "sixel":
        from timg import Renderer, SixelMethod

        renderer = Renderer()
        renderer.load_image(image)
        renderer.reduce_colors(256)
        return str(renderer.to_string(SixelMethod))
    buffer = io.BytesIO()
    image.save(buffer, "PNG")  # type: ignore[attr-defined]
    text = base64.standard_b64encode(buffer.getvalue()).decode()
    if how == "inline":
        return f"\x1b]1337;File=inline=1;size={buffer.tell()};preserveAspectRatio=1:{text}\x07"
    parts = [text[at : at + CHUNK] for at in range(0, len(text), CHUNK)]
    said = []
    for number, part in enumerate(parts):
        first = "a=T,f=100," if number == 0 else ""
        said.append(f"\x1b_G{first}m={int(number < len(parts) - 1)};{part}\x1b\\")
    return "".join(said)


def open_with_viewer(path: Path) -> bool:
    """Open a file as a double click would, where somebody sees it; whether that was tried."""
    if not sys.stdout.isatty():
        return False
    if (
        os.name != "nt"
        and sys.platform != "darwin"
        and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
    ):
        return False
    import typer

    with suppress(OSError):
        return typer.launch(str(path)) == 0
    return False
