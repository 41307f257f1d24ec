"""Data for the ball detector: small clips composed over pictures, patches of rendered lessons, and scores."""
