"""The training room: from examples to detector weights. The heavy training set is imported only here, at need."""
