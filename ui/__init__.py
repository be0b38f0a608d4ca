"""What people touch: the command line and the page."""
