"""Simulated panels: hidden vehicles and drivers on the real vehicle model, ways to tune them, and what became of it."""
