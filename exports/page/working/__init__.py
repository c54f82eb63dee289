"""Two warm processes that plan, build and make for the local page, and their supervisor."""
