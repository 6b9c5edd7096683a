"""The report of a study, one section a file: from results to words, tables and charts."""
