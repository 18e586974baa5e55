"""``python -m rimspan`` is the same as ``rimspan``."""

import sys

from rimspan.cli import main

sys.exit(main())
