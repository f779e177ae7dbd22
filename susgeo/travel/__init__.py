"""Where the car's parts go: axles and knuckles solved in position, and what comes close to what."""
