"""An address as a QR code that a phone's camera reads from the screen."""

from __future__ import annotations

from html import escape

import segno

QUIET = 4
"""Modules of white around the code (ISO/IEC 18004)."""


def qr_svg(address: str, label: str) -> str:
    """Return a QR code as inline SVG, black on white whatever the page's colours.

    Parameters
    ----------
    label : what is read aloud in its stead
    """
    rows = [[bool(module) for module in row] for row in segno.make(address, error="m").matrix]
    size = len(rows) + 2 * QUIET
    dark = "".join(
        f"M{x + QUIET} {y + QUIET}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, module in enumerate(row)
        if module
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}" role="img" '
        f'aria-label="{escape(label)}" style="width:100%;max-width:320px" '
        f'shape-rendering="crispEdges"><rect width="{size}" height="{size}" fill="#ffffff"/>'
        f'<path d="{dark}" fill="#000000"/></svg>'
    )
