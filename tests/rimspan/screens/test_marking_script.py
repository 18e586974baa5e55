"""The marking's script is one module made of parts: a name may stand at its top only once."""

from __future__ import annotations

import re
from collections import Counter

from rimspan.screens.marking import script


def test_no_name_is_declared_twice_at_the_top() -> None:
    names: list[str] = []
    for line in script().splitlines():
        if found := re.match(r"(?:export default )?(?:async )?(?:function|class) +(\w+)", line):
            names.append(found[1])
        elif line.startswith(("const ", "let ")):
            names += re.findall(r"(?:^(?:const|let) |, )(\w+) =", line)
    assert len(names) > 100
    assert [name for name, times in Counter(names).items() if times > 1] == []
