"""Make what Loosehand needs, once, and start it: ``python3 start.py`` opens the demo."""

import sys

if sys.version_info < (3, 11):  # kept readable to old Pythons, so that they can say this
    sys.exit("Loosehand needs Python 3.11 or newer; this is Python %d.%d." % sys.version_info[:2])

from setup_environment import start

if __name__ == "__main__":
    sys.exit(start(sys.argv[1:]))
