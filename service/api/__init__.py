"""THE JSON DOOR: one file per subject, schemas above, views below."""
