"""All channels together: negotiated, improved one by one and in groups."""
