"""Physics on SI floats and arrays; knows nothing of the record."""
