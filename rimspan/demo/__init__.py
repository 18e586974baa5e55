"""The demo: rendered ears, their marks, and a client file of invented people."""

from rimspan.demo.lay_out import lay_out

__all__ = ["lay_out"]
