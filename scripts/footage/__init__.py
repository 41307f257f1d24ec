"""Scoring the detector on real footage with labels made by hand, in parts: clips, labels, score, sheet, page."""
