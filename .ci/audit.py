"""Ask whether a known fault is listed for any installed package; say so where nobody can be asked.

pip-audit reports success too where its service doesn't know the packages at all, as behind some
mirrors.  So it is first asked about a release that has listed faults: only if it names them is
its answer about the rest worth anything.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

WAIVED: dict[str, str] = {}
"""A listed fault's id -> why it does no harm here.  One that isn't found any more must go."""
CANARY = "jinja2==2.4.1"
"""Old, and listed with faults for ever; only asked about, never installed."""
TIMEOUT_S = 300
OURS = {"rimspan"}


def asked(*options: str) -> list[dict[str, Any]] | None:
    """Return what pip-audit says of each package, or None if it couldn't ask."""
    command = [sys.executable, "-m", "pip_audit", "--progress-spinner=off", "--format=json"]
    try:
        done = subprocess.run(  # noqa: S603  (our own interpreter, no shell)
            [*command, *options], check=False, capture_output=True, text=True, timeout=TIMEOUT_S
        )
        return list(json.loads(done.stdout)["dependencies"])
    except (subprocess.TimeoutExpired, ValueError, KeyError):
        return None


def answers() -> bool:
    """Return whether the service knows the listed faults of an old release."""
    with tempfile.TemporaryDirectory() as folder:
        listed = Path(folder) / "canary.txt"
        listed.write_text(f"{CANARY}\n", encoding="utf-8")
        found = asked(f"--requirement={listed}", "--no-deps", "--disable-pip")
    return any(each.get("vulns") for each in found or [])


def main() -> int:
    """Print what was found; 1 if a listed fault isn't waived, or a waiver isn't needed."""
    if not answers():
        print("pip-audit: NOT CHECKED: the service of known faults can't be asked from here")
        return 0
    found = asked("--local")
    if found is None:
        print("pip-audit: NOT CHECKED: it answered once and then no more")
        return 0
    skipped = sorted(e["name"] for e in found if e.get("skip_reason") and e["name"] not in OURS)
    listed = {
        fault["id"]: f"{each['name']} {each['version']}: {fault['id']}, mended in "
        f"{', '.join(fault['fix_versions']) or 'no release'}"
        for each in found
        for fault in each.get("vulns", [])
    }
    for fault, said in sorted(listed.items()):
        print(f"pip-audit: {said}" + (f" (waived: {WAIVED[fault]})" if fault in WAIVED else ""))
    for fault in sorted(set(WAIVED) - set(listed)):
        print(f"pip-audit: {fault} is waived and isn't listed any more: take the waiver away")
    if skipped:
        print(f"pip-audit: NOT CHECKED: {', '.join(skipped)}")
    print(f"pip-audit: {len(found) - len(skipped)} packages asked about, {len(listed)} faults")
    return int(set(listed) != set(WAIVED))


if __name__ == "__main__":
    sys.exit(main())
