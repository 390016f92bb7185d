"""What comes and goes as files."""
