"""The camera room: from field points to pixels and back, and from marks to a solved camera."""
