"""The program as a person uses it: the command line and the page in a browser."""
