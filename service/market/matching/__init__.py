"""Searches and requests, and the lots that meet them."""
