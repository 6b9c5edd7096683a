"""One report section a file: from results to words and tables. Data only."""
