"""Staged autograft planner for severe burns. Start with ``plan_grafting.py``."""

__version__ = "0.1.0"
