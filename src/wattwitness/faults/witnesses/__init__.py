"""Who saw the effort: one independent channel a file, registered in ``registry``."""
