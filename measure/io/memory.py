"""Memory that is free again goes back to the system."""

from __future__ import annotations

import ctypes
import sys

__all__ = ["give_back_memory"]


def give_back_memory() -> None:
    """Give back what the C library keeps for later, as glibc does with freed pictures.

    After a large film that is much. Elsewhere than on Linux nothing happens.
    """
    if sys.platform == "linux":
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
        if trim is not None:
            trim(0)
