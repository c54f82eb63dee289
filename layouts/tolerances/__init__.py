"""General tolerances, and what the worst case of them leaves."""
