"""Names, figures and rows that tables, pictures and report share."""
