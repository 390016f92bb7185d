"""The kettle: utilization, bitterness, brews."""
