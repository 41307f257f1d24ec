"""The training room: from examples to detector weights. Only here is the heavy training set imported, and only at need."""
