"""The pages, one a file: each has its addresses in ``ROUTES``."""
