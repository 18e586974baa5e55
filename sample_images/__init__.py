"""Rendered ears with known truth: pictures made by a script, not people."""
