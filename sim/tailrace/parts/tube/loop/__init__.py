"""An injection through a loop in the stream: what its own flow makes of the sample in it."""
