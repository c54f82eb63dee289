"""What a browser shows: the sources in `web/`, and the built files beside them."""
