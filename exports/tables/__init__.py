"""Tables for the terminal; `panel_tables` is the whole."""
