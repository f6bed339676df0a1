"""Memory that was freed, given back to the system.

The allocator of the C library keeps what threads have freed for itself; between two parts of the work that need much
that would count twice.
"""

from __future__ import annotations

import ctypes
import sys


def give_back() -> None:
    """Give freed memory back where the C library can be asked to (glibc); elsewhere nothing is done."""
    if sys.platform != "linux":
        return
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if trim is not None:
        trim(0)
