"""Renders lessons with known truth. Shares no code with the package that it is used to judge."""
