"""WHAT WE PRINT: facts in, PDF bytes out; words first, ink second."""
