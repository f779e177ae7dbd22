"""The workshop: the reader's own car, from the tape measure to a sheet that can be built from."""
