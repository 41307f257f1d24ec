"""The local page on which a lesson is set up, its field marked and its swings looked through."""
