"""``rimspan demo``: sample photos, their marks and a demo client file in a folder."""

from __future__ import annotations

import argparse

from rimspan.demo import lay_out


def run(arguments: argparse.Namespace) -> str:
    """Run the command and return what to say."""
    return lay_out(arguments.into)
