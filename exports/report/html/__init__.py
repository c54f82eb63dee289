"""The report as one page that opens by a double click, offline."""
