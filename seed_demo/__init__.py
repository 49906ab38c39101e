"""The demo's data, and who makes it."""
