"""The accuracy benchmark, in parts: lessons, truth, marks for the measurement, report."""
