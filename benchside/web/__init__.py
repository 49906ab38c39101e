"""Pages and their JSON twins: read a request, call one verb, render a template."""
