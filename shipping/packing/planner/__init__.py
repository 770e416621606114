"""Gear into cases, cases onto vehicles: the heuristic, the model, two engines, and the plan with its record."""
