"""What storage leaves of the acids."""
