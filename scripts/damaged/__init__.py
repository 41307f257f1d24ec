"""Damaged and lying files."""
