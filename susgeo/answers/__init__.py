"""Checking hand calculations: every answer gets a true verdict and a sentence that helps."""
