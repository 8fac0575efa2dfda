"""Ship days: asked, given, kept; one module for each."""
