"""Wood as material: species, moisture, shrinkage, strength and drying. Pure functions."""
