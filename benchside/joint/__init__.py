"""A round tenon in a bored hole, through the year. Pure functions over mm and percent moisture."""
