"""WHAT PEOPLE ASK OF US: read, decide, write."""
