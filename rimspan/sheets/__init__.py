"""Sheets to print: one module and one ``.typ`` file beside it for each."""
