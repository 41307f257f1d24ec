"""What a lesson is taken home as: the spray chart and the page."""
