"""The drawing that a plate is cut and assembled by: sheets as values, and their DXF and PDF."""
