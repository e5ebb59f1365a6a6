"""Keep every numeric library to one thread: import this before any of them.

It also names the folder where numba keeps what it compiled. Two processes that compile at once
can spoil that folder, so the first process warms it up alone.
"""

import os
from pathlib import Path

__all__ = ["COMPILED"]

COMPILED = Path(__file__).parent / "out" / "numba"

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
os.environ.setdefault("NUMBA_CACHE_DIR", str(COMPILED))
