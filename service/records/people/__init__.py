"""Parties and who may do what."""
