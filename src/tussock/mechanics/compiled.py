"""The decorators of every compiled kernel, so that all share the same rules.

Kernels take and fill C-contiguous arrays, release the interpreter lock, keep strict floating-point rules (a NaN stays
a NaN) and are cached on disk. The cache watches only the file of the kernel: helpers of a kernel stand in its file.
With the environment variable ``NUMBA_DISABLE_JIT=1`` the same functions run as plain Python, which tests use as oracle.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar, cast

import numba

P = ParamSpec("P")
R = TypeVar("R")
_INNER: Any = {"forceinline": True, "_nrt": False}  # without the run time that counts references; not in the stubs


def kernel(function: Callable[P, R]) -> Callable[P, R]:
    """Compile `function` on first use and keep the machine code on disk."""
    compiled = numba.njit(cache=True, nogil=True, fastmath=False, error_model="numpy")(function)
    return cast("Callable[P, R]", compiled)


def inner_kernel(function: Callable[P, R]) -> Callable[P, R]:
    """Compile what kernels call at every step: laid into its caller, products and sums fused where the machine can.

    It may fill and view arrays but make none, since it does not count references to them: counting takes an atomic
    addition for every array at every call, a third of the time of a step, and threads wait for each other at the arrays
    that they share.

    A fused multiply-add rounds once where two operations round twice. Nothing is reordered, a NaN stays a NaN, and a
    machine repeats itself to the last bit; a processor that cannot fuse differs in the last bits.
    """
    compiled = numba.njit(cache=True, nogil=True, fastmath={"contract"}, error_model="numpy", **_INNER)(function)
    return cast("Callable[P, R]", compiled)
