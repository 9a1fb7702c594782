"""Independent solutions that the solvers are held against; they share no code with them."""
