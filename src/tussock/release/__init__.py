"""Documents made from study results."""
