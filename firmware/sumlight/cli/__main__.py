"""`python -m sumlight.cli` is the command `sumlight`."""

import sys

from sumlight.cli import main

sys.exit(main())
