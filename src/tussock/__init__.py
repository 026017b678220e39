"""Tussock: the workbench of a suspension engineer who develops kits for existing four-wheel drives."""

__version__ = "0.1.0"
