"""What the car carries: anti-features, a steady corner, the force in every rod."""
