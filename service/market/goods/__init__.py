"""Lots, their packages, laboratory reports and cultivars."""
