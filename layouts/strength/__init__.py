"""What holds the pressure: covers, floors, posts, screws and threads."""
