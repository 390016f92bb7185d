"""HTML pages: the explanation of each problem, and the documentation."""
