"""``python -m loosehand`` is the command line."""

import sys

from loosehand.cli import main

sys.exit(main())
