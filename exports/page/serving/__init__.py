"""The server of the local page: who may ask, what is answered, and the one file that is worked on."""
