"""Roller bodies, recipes, product sheets, tape on rollers, readiness and release."""
