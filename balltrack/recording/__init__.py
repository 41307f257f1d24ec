"""A recording of a whole lesson, cut into one clip a swing."""
