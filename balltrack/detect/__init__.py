"""The detect room: where in a frame something ball-like differs from the empty field."""
