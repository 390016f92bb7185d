"""WHAT WE REMEMBER: rows stay here, facts come out."""
