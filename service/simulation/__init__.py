"""Simulated courses: the settled plan played many times, with the recourse that a surgeon has."""
