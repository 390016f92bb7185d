"""What we send."""
