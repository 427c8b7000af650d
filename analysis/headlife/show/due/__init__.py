"""What is due, as people, calendars and programs see it."""
