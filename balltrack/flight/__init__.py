"""From pixels to flight: forces, path, fit, landing."""
