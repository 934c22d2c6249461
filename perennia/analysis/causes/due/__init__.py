"""What asks for attention on a day: one kind of matter a file."""
