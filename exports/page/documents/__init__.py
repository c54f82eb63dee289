"""What the local page is told, as values ready for JSON: pure functions of plans, findings and failures."""
