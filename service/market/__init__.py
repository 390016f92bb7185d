"""WHAT OUR RULES SAY: frozen facts, and pure decisions on them."""
