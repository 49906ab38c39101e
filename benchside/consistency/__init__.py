"""How alike the pieces are, from few readings, said honestly."""
