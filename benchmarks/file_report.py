"""What came of trying the client file's hardness, in a table for each piece."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

Run = dict[str, Any]
ENGINES = ("embedded", "PostgreSQL")
ASKED = {
    ("kills", "embedded"): 500,
    ("kills", "PostgreSQL"): 100,
    ("inputs", "embedded"): 10_000,
    ("flips", "embedded"): 1_000,
}
CHAIRS, SECONDS, LARGEST, ROUNDS = 20, 300, 100_000, 20
AIMED_MS = {"search": 50, "timeline": 50, "day's list": 50, "save": 150}


def report(kept: list[Run]) -> str:
    """Return the report of all runs."""
    lines = [
        "# The client file's hardness",
        "",
        "`python -m benchmarks.reliability --file PIECE`, a piece at a time; a fault is anything "
        "that was acknowledged and is not there, any damage that `verify` tells after a kill or a "
        "full disk, a flipped bit that is neither told nor without effect, any error that the "
        "program doesn't say in a sentence, and any input that takes over 5 s. Machines and "
        "moments stand below. The pieces shared their two processor cores with other work; the "
        "load is the system's average over five minutes at the end.",
        "",
    ]
    for part in (_kills, _inputs, _flips, _chairs, _full, _scale):
        lines += part(kept)
    lines += ["## Smaller than asked", "", *_short(kept), ""]
    lines += ["## Runs", "", *_runs(kept)]
    return "\n".join(lines) + "\n"


def _of(kept: list[Run], piece: str, engine: str | None = None) -> list[Run]:
    return [
        run for run in kept if run["piece"] == piece and (engine is None or run["engine"] == engine)
    ]


def _faults(faults: list[str]) -> Iterator[str]:
    if faults:
        yield "Faults:"
        yield ""
        yield from (f"- `{fault[:300]}`" for fault in faults[:20])
        yield ""


def _kills(kept: list[Run]) -> list[str]:
    lines = [
        "## Killed at a random moment (SIGKILL)",
        "",
        "| engine | at | kills | acknowledged before | slowest to open and prove, s | faults |",
        "| --- | --- | ---: | ---: | ---: | ---: |",
    ]
    faults: list[str] = []
    for engine in ENGINES:
        runs = _of(kept, "kills", engine)
        for kind in ("save", "import", "migration", "backup", "close"):
            found = [run["found"][kind] for run in runs if kind in run["found"]]
            if not found:
                continue
            faults += [fault for each in found for fault in each["faults"]]
            lines.append(
                f"| {engine} | {kind} | {sum(f['kills'] for f in found)} | "
                f"{sum(f['acknowledged'] for f in found)} | "
                f"{max(f['slowest_s'] for f in found):.1f} | "
                f"{sum(len(f['faults']) for f in found)} |"
            )
    amid = sum(run["found"]["migration"]["amid"] for run in _of(kept, "kills"))
    said = f"Of the migrations, {amid} were killed before they were done, the others just after."
    return [*lines, "", said, "", *_faults(faults)]


def _inputs(kept: list[Run]) -> list[str]:
    runs = _of(kept, "inputs")
    lines = [
        "## Inputs changed at random",
        "",
        "| inputs | tried | taken | refused | slowest, s of processor | faults |",
        "| --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    faults: list[str] = []
    for kind in ("photos", "marks", "imports", "backups"):
        found = [run["found"]["kinds"][kind] for run in runs]
        if found:
            faults += [fault for each in found for fault in each["faults"]]
            lines.append(
                f"| {kind} | {sum(f['inputs'] for f in found)} | "
                f"{sum(f['taken'] for f in found)} | {sum(f['refused'] for f in found)} | "
                f"{max(f['slowest_s'] for f in found):.2f} | "
                f"{sum(len(f['faults']) for f in found)} |"
            )
    peak = max((run["found"]["peak_bytes"] for run in runs), default=0)
    said = (
        f"The process that tried them held {peak / 1e9:.1f} GB at most: photos of just under 120 "
        "million pixels are among them, and small otherwise."
    )
    return [*lines, "", said, "", *_faults(faults)]


def _flips(kept: list[Run]) -> list[str]:
    lines = [
        "## Single bits turned over",
        "",
        "| where | flips | named the record | told as damage of the database | "
        "told by its page alone | nothing is told | faults |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    faults: list[str] = []
    for since in ("", ", pages not recorded yet"):
        runs = [
            run
            for run in _of(kept, "flips")
            if bool(since) == ("of_no_effect" in run["found"]["anywhere"])
        ]
        for kind in ("anywhere", "sealed values", "photos") if runs else ():
            found = [run["found"][kind] for run in runs]
            faults += [fault for each in found for fault in each["faults"]]
            counts = (
                sum(each.get(name, 0) for each in found)
                for name in ("flips", "named", "file_damaged", "page_alone", "of_no_effect")
            )
            lines.append(
                f"| {kind}{since} | {' | '.join(map(str, counts))} | "
                f"{sum(len(f['faults']) for f in found)} |"
            )
    said = (
        "*Anywhere* is anywhere in a small database file that was closed, in which much room lies "
        "between the rows. A flip that doesn't keep the file from being opened must be told with "
        "its page, else it is a fault. Before pages were recorded, those between the rows were not "
        "told at all; every row read as before."
    )
    return [*lines, "", said, "", *_faults(faults)]


def _chairs(kept: list[Run]) -> list[str]:
    lines = ["## Chairs at once", ""]
    for run in _of(kept, "chairs"):
        found = run["found"]
        lines += [
            f"{run['engine']}, `{run['options']}`: {found['saved']} assessments saved, each there "
            f"afterwards, numbered without a gap; slowest act {found['slowest_s']:.1f} s; "
            f"{len(found['faults'])} faults.",
            "",
            "| act | times | p95, ms | slowest, ms |",
            "| --- | ---: | ---: | ---: |",
            *(
                f"| {name} | {act['n']} | {act['p95_ms']:.0f} | {act['slowest_ms']:.0f} |"
                for name, act in found["acts"].items()
            ),
            "",
            *_faults(found["faults"]),
        ]
    return lines


def _full(kept: list[Run]) -> list[str]:
    lines = [
        "## Full disks",
        "",
        "| how | rounds | acknowledged | refused in a sentence | faults |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    faults: list[str] = []
    for run in _of(kept, "full"):
        for how, found in run["found"].items():
            if found is None:
                lines.append(f"| {how} | could not be mounted | | | |")
                continue
            faults += found["faults"]
            lines.append(
                f"| {how} | {found['rounds']} | {found['acknowledged']} | {found['told']} | "
                f"{len(found['faults'])} |"
            )
    return [*lines, "", *_faults(faults)]


def _scale(kept: list[Run]) -> list[str]:
    names = [*AIMED_MS, "all names", "newest"]
    aimed = ", ".join(f"{name} {ms}" for name, ms in AIMED_MS.items())
    lines = [
        "## Large files",
        "",
        f"The 95th percentile, ms (aimed at: {aimed}); five assessments a client, twenty a day, "
        "each with the marks and the result of a real run. *Start* opens the file, with a cheap "
        "passphrase; *first search* opens every name, once after the start. The times "
        "are those of a machine that others kept busy, more at one run than at another.",
        "",
        f"| engine | run of | assessments | clients | start | first search | {' | '.join(names)} |",
        f"| --- | --- | ---: | ---: | ---: | ---: | {' | '.join('---:' for _ in names)} |",
    ]
    proven = []
    for engine in ENGINES:
        for run in _of(kept, "scale", engine):
            for each in run["found"]:
                cells = " | ".join(f"{each[name]['p95_ms']:.0f}" for name in names)
                lines.append(
                    f"| {engine} | {run['at'][11:16]} | {each['assessments']} | {each['clients']} "
                    f"| {each['start_ms']:.0f} | {each['first_search_ms']:.0f} | {cells} |"
                )
                if "verify_s" in each:
                    closed = each.get("close_s")
                    proven.append(
                        f"{engine}, {each['assessments']} assessments: {each['verify_s']:.0f} s"
                        + (f" (closing the file: {closed:.1f} s)" if closed is not None else "")
                    )
    said = f"Looking at everything once (`verify`): {'; '.join(proven)}." if proven else ""
    return [*lines, "", said, ""]


def _short(kept: list[Run]) -> Iterator[str]:
    """Yield what was tried less than it was meant to be."""
    short = []
    for (piece, engine), asked in ASKED.items():
        done = sum(int(_option(run, piece)) for run in _of(kept, piece, engine))
        if done < asked:
            short.append(f"- {piece}, {engine}: {done} of {asked}")
    rounds = sum(int(_option(run, "rounds")) for run in _of(kept, "full"))
    if rounds < ROUNDS:
        short.append(f"- full disks, each of two ways: {rounds} of {ROUNDS} rounds")
    for engine in ENGINES:
        chairs = [
            (_option(run, "chairs"), _option(run, "seconds")) for run in _of(kept, "chairs", engine)
        ]
        if not any(count >= CHAIRS and seconds >= SECONDS for count, seconds in chairs):
            said = ", ".join(f"{count:.0f} for {seconds:.0f} s" for count, seconds in chairs)
            short.append(f"- chairs, {engine}: {said or 'none'} of {CHAIRS} for {SECONDS} s")
        sizes = [each["assessments"] for run in _of(kept, "scale", engine) for each in run["found"]]
        if max(sizes, default=0) < LARGEST:
            short.append(
                f"- large files, {engine}: {max(sizes, default=0)} of {LARGEST} assessments"
            )
    yield from short or ["Nothing."]


def _option(run: Run, name: str) -> float:
    found = re.search(rf"--{name}=([\d.]+)", run["options"])
    return float(found[1]) if found else 0.0


def _runs(kept: list[Run]) -> Iterator[str]:
    yield "| piece | engine | options | when | took, s | load | machine |"
    yield "| --- | --- | --- | --- | ---: | ---: | --- |"
    for run in kept:
        yield (
            f"| {run['piece']} | {run['engine']} | `{run['options']}` | {run['at']} | "
            f"{run['took_s']} | {run['load']} | {run['machine']} |"
        )
    yield ""
    for run in kept:
        if "note" in run:
            yield f"- {run['piece']}, {run['engine']}, {run['at']}: {run['note']}"
