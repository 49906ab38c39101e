"""The verbs of the job: what a maker does, one module for each part of it."""
