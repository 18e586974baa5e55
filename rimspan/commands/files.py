"""Files in and out: refusals in one line, and outputs written all together or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from assess.errors import AssessError, Fault


class CommandRefusedError(AssessError):
    """A command was asked for something it can't or mustn't do; exit status 2."""


def refuse(where: str, what: str, remedy: str) -> CommandRefusedError:
    """Return the error for one fault."""
    return CommandRefusedError([Fault(where, what, remedy)])


def why(error: OSError) -> str:
    """Return what the system said, without numbers and paths."""
    return (error.strerror or type(error).__name__).lower()


def read_input(path: Path, *, where: str | None = None) -> bytes:
    """Return a file's bytes.

    Raises
    ------
    CommandRefusedError
        If it is missing, a folder, or can't be read.
    """
    label = where or str(path)
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise refuse(label, "there is no such file", "check the name and the folder") from None
    except IsADirectoryError:
        raise refuse(label, "is a folder", "name a file in it") from None
    except OSError as error:
        raise refuse(label, f"can't be read: {why(error)}", "make it readable") from None
    except ValueError:  # a NUL in the name
        raise refuse(repr(label), "is no file name", "check the name") from None


def checked_suffix(path: Path, allowed: Iterable[str], option: str) -> str:
    """Return the file's suffix in lower case, if the option takes it."""
    suffix, known = path.suffix.lower(), tuple(allowed)
    if suffix not in known:
        said = f"{option} doesn't write {path.suffix!r} files" if suffix else "has no suffix"
        raise refuse(str(path), said, f"end the name in {' or '.join(known)}")
    return suffix


@dataclass
class Outputs:
    """Files to be written together, once everything that could fail has succeeded."""

    inputs: tuple[Path, ...] = ()
    contents: dict[Path, bytes] = field(default_factory=dict)
    _claimed: list[Path] = field(default_factory=list)

    def claim(self, path: Path, option: str) -> None:
        """Refuse a path early that can't be written, or that would overwrite something read.

        Raises
        ------
        CommandRefusedError
            If it is a folder, its folder is missing, it is claimed twice or it is an input.
        """
        if path.is_dir():
            raise refuse(str(path), f"{option} names a folder", "name a file in it")
        parent = path.parent
        if not parent.is_dir():
            raise refuse(str(path), f"{option}: there is no folder {parent}", "make it first")
        if not os.access(parent, os.W_OK) or (path.exists() and not os.access(path, os.W_OK)):
            raise refuse(str(path), f"{option} can't be written", "choose another folder")
        if any(same(path, other) for other in self.inputs):
            raise refuse(str(path), f"{option} would overwrite an input", "choose another name")
        if any(same(path, other) for other in self._claimed):
            raise refuse(str(path), f"{option} names another output's file", "choose another name")
        self._claimed.append(path)

    def add(self, path: Path, content: bytes) -> None:
        """Keep a file's content until everything is written."""
        self.contents[path] = content

    def write(self) -> None:
        """Write every file, or none; devices and pipes come last.

        Raises
        ------
        CommandRefusedError
            If one can't be written; none is left behind then.
        """
        special = {path for path in self.contents if path.exists() and not path.is_file()}
        staged: list[tuple[Path, Path]] = []
        try:
            for path, content in self.contents.items():
                if path not in special:
                    staged.append(_stage(path, content))
            for temporary, final in staged:
                temporary.replace(final)
            for path in special:
                path.write_bytes(self.contents[path])
        except OSError as error:
            name = str(error.filename2 or error.filename or "the output")
            raise refuse(name, f"can't be written: {why(error)}", "choose another place") from None
        finally:
            for temporary, _ in staged:
                temporary.unlink(missing_ok=True)


def same(one: Path, other: Path) -> bool:
    """Return whether two names stand for one file, links followed."""
    try:
        return one.resolve() == other.resolve()
    except (OSError, RuntimeError):
        return False


def _stage(path: Path, content: bytes) -> tuple[Path, Path]:
    """Write the content beside its place; links are followed, the name in front is kept."""
    final = path.resolve()
    beside = final.with_name(f".{final.name}.{os.getpid()}.part")
    try:
        with beside.open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise refuse(str(path), f"can't be written: {why(error)}", "choose another place") from None
    return beside, final
