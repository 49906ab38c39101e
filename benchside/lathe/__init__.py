"""The lathe: the order of steps, the size to stop at, the calipers."""
