"""The tree of errors. Every error that Tussock raises on purpose has one root.

TussockError
├── InputError (ValueError)          what the user gave is wrong; the command line exits with 2
├── StoreError                       what keeps programmes could not do it; `tussock.store.errors` has the kinds
└── MechanicsError
    ├── DomainError (ValueError)     a number outside the range where the model holds
    └── SolverError (RuntimeError)   a solver that could not finish; carries its numbers
        └── AssemblyError            a linkage that cannot be put together
"""

from __future__ import annotations


class TussockError(Exception):
    """Root of all errors that Tussock raises on purpose."""


class InputError(TussockError, ValueError):
    """A file, field or argument from the user is wrong."""


class StoreError(TussockError):
    """Programmes could not be kept or read; the text names no place on the machine."""


class MechanicsError(TussockError):
    """A computation could not be done."""


class DomainError(MechanicsError, ValueError):
    """A number lies outside the range where the model holds."""


class SolverError(MechanicsError, RuntimeError):
    """A solver did not finish; the text carries its numbers."""


class AssemblyError(SolverError):
    """A linkage cannot be put together from its hardpoints."""
