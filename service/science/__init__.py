"""WHAT NATURE SAYS: numbers in, numbers out; no clock, no database."""
