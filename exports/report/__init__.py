"""`report.json`, a module for each of its parts; `document` is the whole."""
