"""Steps that make lots of lots."""
