"""What the printed papers say."""
