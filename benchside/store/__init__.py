"""The database. Every line of SQL is in this package."""
