"""One chart a file: from results to a chart description. Data only, no drawing library."""
