"""What is kept of a lesson: the swing record and its files."""
