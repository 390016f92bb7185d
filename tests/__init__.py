"""The tests: they mirror service/, room by room."""
