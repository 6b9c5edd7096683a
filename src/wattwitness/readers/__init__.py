"""A file in, recordings out. One format a file; formats are told apart by content, never by the file's name."""
