"""Every number of a car by its name: tables of it, its tolerance, its change, and the way back to a bracket."""
