"""The formulas as calculators."""
