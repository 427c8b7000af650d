"""What the shop wrote down: reading, checking and joining head removal records."""
