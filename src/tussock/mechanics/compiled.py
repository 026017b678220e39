"""One decorator for every compiled kernel, so that all share the same rules.

Kernels take and fill C-contiguous arrays, release the interpreter lock, keep strict floating-point rules (a NaN stays
a NaN) and are cached on disk. The cache watches only the file of the kernel: helpers of a kernel stand in its file.
With the environment variable ``NUMBA_DISABLE_JIT=1`` the same functions run as plain Python, which tests use as oracle.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

import numba

P = ParamSpec("P")
R = TypeVar("R")


def kernel(function: Callable[P, R]) -> Callable[P, R]:
    """Compile `function` on first use and keep the machine code on disk."""
    compiled = numba.njit(cache=True, nogil=True, fastmath=False, error_model="numpy")(function)
    return cast("Callable[P, R]", compiled)
