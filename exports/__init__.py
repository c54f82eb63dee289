"""Everything that leaves the program: the pipeline, the command, the files."""
