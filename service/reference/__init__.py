"""WHAT THE BOOKS SAY: published tables, each row with its source."""
